/** Limits in numbers that end the waiting: those suggested, and one of one's own. */
import type { Asset, TrendValue } from '../../../contract/model.ts';
import type { StopLimit } from '../../../contract/watch-plans.ts';
import { significant } from '../../format.ts';
import { VALUES, valueWords } from '../../words.ts';
import { Field } from '../forms.tsx';

interface Props {
  asset: Asset;
  /** Location the plan is for; null: the whole asset. */
  place: number | null;
  suggested: readonly StopLimit[];
}

export function StopLimits({ asset, place, suggested }: Props) {
  const places = asset.locations.filter(({ id }) => place === null || id === place);
  const nameOf = (id: number) => asset.locations.find((one) => one.id === id)?.name ?? '';
  return (
    <fieldset class="panel">
      <legend class="unseen">Levels that end the waiting</legend>
      <h3>Levels that end the waiting</h3>
      {suggested.map(({ locationId, value, basis, bin, limit }, i) => (
        <div key={`${locationId} ${value}`} class="limit">
          <label>
            <input type="checkbox" name={`take-${i}`} defaultChecked />
            <span>
              {valueWords(value).name}, {nameOf(locationId)}
              {bin !== null && bin !== 'any' ? ` (${bin})` : ''}
            </span>
          </label>
          <Field
            label={
              basis === 'ratio' ? 'Stop at so many times the baseline' : `Stop at ${valueWords(value).unit}`
            }
            name={`limit-${i}`}
            inputMode="decimal"
            pattern="[0-9]+([.,][0-9]+)?"
            autocomplete="off"
            defaultValue={significant(limit)}
          />
        </div>
      ))}
      <p class="hint">
        Suggested: twice the baseline (common practice, no source); for velocity on a machine, the C/D
        boundary of its class. The middle of the last three runs decides.
      </p>
      {places.length > 0 && (
        <details>
          <summary>One more</summary>
          <div class="in-line">
            <label class="select">
              Location
              <select name="own-place">
                {places.map(({ id, name }) => (
                  <option key={id} value={id}>
                    {name}
                  </option>
                ))}
              </select>
            </label>
            <label class="select">
              Value
              <select name="own-value">
                {VALUES.map(({ key, name }) => (
                  <option key={key} value={key}>
                    {name}
                  </option>
                ))}
              </select>
            </label>
            <Field
              label="Stop at so many times the baseline"
              name="own-limit"
              inputMode="decimal"
              pattern="[0-9]+([.,][0-9]+)?"
              autocomplete="off"
              hint="Empty: none"
            />
          </div>
        </details>
      )}
    </fieldset>
  );
}

/** What was entered. A suggested limit that was not ticked, or whose number was emptied, is left out. */
export function limitsOf(form: FormData, suggested: readonly StopLimit[]): StopLimit[] {
  const number = (name: string) => Number(String(form.get(name) ?? '').replace(',', '.'));
  const taken = suggested.flatMap((limit, i): StopLimit[] => {
    const entered = number(`limit-${i}`);
    return form.has(`take-${i}`) && entered > 0 ? [{ ...limit, limit: entered }] : [];
  });
  const own = number('own-limit');
  if (!(own > 0)) return taken;
  const value = String(form.get('own-value')) as TrendValue;
  return [
    ...taken,
    { locationId: Number(form.get('own-place')), value, basis: 'ratio', bin: null, limit: own },
  ];
}
