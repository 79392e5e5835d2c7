import { type TObject, type TProperties, Type } from 'typebox';

/** The same object with unknown fields refused, so that a misspelt one is not silently left out. */
export function closed<Properties extends TProperties>(schema: TObject<Properties>): TObject<Properties> {
  return Type.Object(schema.properties, { additionalProperties: false });
}

/** A change: any of the fields, at least one. */
export function change<Properties extends TProperties>(schema: TObject<Properties>) {
  return Type.Partial(schema, { additionalProperties: false, minProperties: 1 });
}

export const IdParams = Type.Object({ id: Type.Integer({ minimum: 1, maximum: Number.MAX_SAFE_INTEGER }) });

/** Answer of a request that leaves nothing to tell. */
export const Done = Type.Object({ done: Type.Literal(true) });
