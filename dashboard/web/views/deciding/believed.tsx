/** A figure somebody believes in, with how far it may be off to either side. */
import type { Believed } from '../../../contract/decisions.ts';
import { significant } from '../../format.ts';

interface Props {
  label: string;
  name: string;
  hint?: string;
  /** The figure before, in what is entered. */
  first?: Believed | undefined;
  /** What is entered, times this, is the figure: 0.01 for percent. */
  scale?: number;
  required?: boolean;
}

const ENDS = [
  ['low', 'Least'],
  ['middle', 'Most likely'],
  ['high', 'Most'],
] as const;

export function BelievedField({ label, name, hint, first, scale = 1, required }: Props) {
  const shown = (end: keyof Believed): string => {
    if (first === undefined || (end !== 'middle' && first[end] === first.middle)) return '';
    return plain(first[end] / scale);
  };
  return (
    <fieldset class="believed">
      <legend>{label}</legend>
      {ENDS.map(([end, words]) => (
        <label key={end}>
          <span>{words}</span>
          <input
            name={`${name}-${end}`}
            inputMode="decimal"
            pattern="[0-9]+([.,][0-9]+)?"
            autocomplete="off"
            required={required === true && end === 'middle'}
            defaultValue={shown(end)}
          />
        </label>
      ))}
      {hint && <p class="hint">{hint}</p>}
    </fieldset>
  );
}

/** Written out without grouping, so that it can be entered again. */
const plain = (value: number): string =>
  value >= 1000 ? String(Math.round(value)) : significant(value, 6).replace(/\.?0+$/, '');

export const numberOf = (form: FormData, name: string): number | null => {
  const text = String(form.get(name) ?? '').trim();
  return text === '' ? null : Number(text.replace(',', '.'));
};

/** What was entered. Nothing is 0; an end that was left out is the middle. */
export function believedOf(form: FormData, name: string, scale = 1): Believed {
  const middle = numberOf(form, `${name}-middle`) ?? 0;
  const [low, high] = (['low', 'high'] as const).map((end) => numberOf(form, `${name}-${end}`) ?? middle);
  return { low: low! * scale, middle: middle * scale, high: high! * scale };
}
