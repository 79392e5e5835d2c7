/** Comparing in a band only, or by a line that repeats at a stated rate. */
import type { Signal } from '@preact/signals';
import type { CompareRequest } from '../../contract/inquiries.ts';
import { Field } from './forms.tsx';

interface Fields {
  lowHz: string;
  highHz: string;
  defectHz: string;
}

/** What is filled in, as the station asks for it; the station says what is wrong with it. */
export function narrowed({ lowHz, highHz, defectHz }: Fields): Pick<CompareRequest, 'bandHz' | 'defectHz'> {
  const number = (text: string) => Number(text.replace(',', '.'));
  return {
    ...(lowHz === '' || highHz === '' ? {} : { bandHz: [number(lowHz), number(highHz)] }),
    ...(defectHz === '' ? {} : { defectHz: number(defectHz) }),
  };
}

export function NarrowDown({ fields }: { fields: Signal<Fields> }) {
  const field = (name: keyof Fields, label: string, hint?: string) => (
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
      <summary>Only a band, or a noise that repeats</summary>
      <div class="in-line">
        {field('lowHz', 'From, Hz')}
        {field('highHz', 'to, Hz', 'Both empty: all bands')}
        {field(
          'defectHz',
          'Repeats at, Hz',
          'For example the rate of a bearing finding, at one steady speed',
        )}
      </div>
    </details>
  );
}
