import { StationError } from './errors.ts';

/** Throws `BAD_SETTING` naming the option. */
export function positive(text: string, option: string): number {
  const value = Number(text);
  if (text.trim() !== '' && value > 0 && Number.isFinite(value)) return value;
  throw new StationError(
    'BAD_SETTING',
    `${option} '${text}' is not a number above 0`,
    'Give a plain number.',
  );
}

/** Throws `BAD_SETTING` naming the option. */
export function wholePositive(text: string, option: string): number {
  const value = positive(text, option);
  if (Number.isSafeInteger(value)) return value;
  throw new StationError('BAD_SETTING', `${option} '${text}' is not a whole number`, 'Give a whole number.');
}
