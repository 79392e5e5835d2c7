/** Comparing in a band only, or by a line that repeats at a stated rate. */
import type { Signal } from '@preact/signals';
import type { CompareRequest } from '../../contract/inquiries.ts';
import type { Run } from '../../contract/runs.ts';
import { Field } from './forms.tsx';

export interface Narrow {
  lowHz: string;
  highHz: string;
  defectHz: string;
  /** Locations that do not take part. */
  leftOut: readonly number[];
}

/** What is filled in, as the station asks for it; the station says what is wrong with it. */
export function narrowed(
  { lowHz, highHz, defectHz, leftOut }: Narrow,
  run: Run,
): Pick<CompareRequest, 'bandHz' | 'defectHz' | 'locationIds'> {
  const number = (text: string) => Number(text.replace(',', '.'));
  return {
    ...(lowHz === '' || highHz === '' ? {} : { bandHz: [number(lowHz), number(highHz)] }),
    ...(defectHz === '' ? {} : { defectHz: number(defectHz) }),
    ...(leftOut.length === 0
      ? {}
      : { locationIds: run.locations.map(({ id }) => id).filter((id) => !leftOut.includes(id)) }),
  };
}

export function NarrowDown({ fields, run }: { fields: Signal<Narrow>; run: Run }) {
  const { leftOut } = fields.value;
  const field = (name: 'lowHz' | 'highHz' | 'defectHz', label: string, hint?: string) => (
    <Field
      label={label}
      name={name}
      inputMode="decimal"
      autocomplete="off"
      maxLength={9}
      {...(hint === undefined ? {} : { hint })}
      onInput={(event) => {
        fields.value = { ...fields.value, [name]: event.currentTarget.value.trim() };
      }}
    />
  );
  return (
    <details>
      <summary>Only a band, some locations, or a noise that repeats</summary>
      <div class="in-line">
        {field('lowHz', 'From, Hz')}
        {field('highHz', 'to, Hz', 'Both empty: all bands')}
        {field(
          'defectHz',
          'Repeats at, Hz',
          'For example the rate of a bearing finding, at one steady speed',
        )}
      </div>
      <fieldset class="list">
        <legend>Locations</legend>
        {run.locations.map(({ id, name, component }) => (
          <label key={id}>
            <input
              type="checkbox"
              checked={!leftOut.includes(id)}
              onChange={(event) => {
                const others = leftOut.filter((one) => one !== id);
                fields.value = {
                  ...fields.value,
                  leftOut: event.currentTarget.checked ? others : [...others, id],
                };
              }}
            />
            <span>
              {component}: {name}
            </span>
          </label>
        ))}
      </fieldset>
    </details>
  );
}
