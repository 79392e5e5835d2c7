/** Small schemas that every part of the interface is made of. */
import { Type } from 'typebox';

export const OrNull = <Schema extends Parameters<typeof Type.Union>[0][number]>(schema: Schema) =>
  Type.Union([schema, Type.Null()]);

export const Id = Type.Integer({ minimum: 1 });
/** An instant, Unix milliseconds, within what a date can hold. */
export const Millis = Type.Integer({ minimum: 0, maximum: 8_640_000_000_000_000 });
export const IdOrNull = OrNull(Id);
export const MillisOrNull = OrNull(Millis);
export const NumberOrNull = OrNull(Type.Number());
export const TextOrNull = OrNull(Type.String());

export const Text = (maxLength: number) => Type.String({ maxLength });
/** Something to read: not spaces alone. */
export const SomeText = (maxLength: number) => Type.String({ minLength: 1, maxLength, pattern: '\\S' });
