/** Trouble codes that the vehicle has stored: noted as supporting evidence. */
import { useSignal } from '@preact/signals';
import type { Run } from '../../contract/runs.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';
import { Field, fieldText } from './forms.tsx';

export function TroubleCodes({ run, onChanged }: { run: Run; onChanged(): void }) {
  const { api } = useApp();
  const action = useAction();
  // A new form after each code, so that its field is empty again.
  const form = useSignal(0);
  const codes = run.troubleCodes.map(({ code }) => code);
  const save = (troubleCodes: string[]) =>
    action.run(async () => {
      await api.changeRun(run.id, { troubleCodes });
      onChanged();
    });
  const add = async (event: Event) => {
    event.preventDefault();
    const text = fieldText(event, 'code');
    if (text !== '' && (await save([...codes, text]))) form.value++;
  };
  return (
    <section class="panel" aria-labelledby="codes-heading">
      <h2 id="codes-heading">Trouble codes</h2>
      <p class="hint">
        As read from the vehicle. A code names the circuit that noticed, not the part that failed: support, no
        verdict.
      </p>
      {run.troubleCodes.length > 0 && (
        <ul class="plain">
          {run.troubleCodes.map(({ code, meaning, supports, provenance }) => (
            <li key={code}>
              <strong>{code}</strong>
              {meaning && `: ${meaning}`}{' '}
              <button
                type="button"
                class="quiet"
                aria-label={`Remove ${code}`}
                disabled={action.busy.value}
                onClick={() => void save(codes.filter((one) => one !== code))}
              >
                Remove
              </button>
              <p class="hint">
                {supports && `${supports.charAt(0).toUpperCase()}${supports.slice(1)}. `}
                {provenance.charAt(0).toUpperCase()}
                {provenance.slice(1)}.
              </p>
            </li>
          ))}
        </ul>
      )}
      <form class="in-line" key={form.value} onSubmit={(event) => void add(event)}>
        <Field label="Code" name="code" maxLength={20} autocomplete="off" hint="For example P0741" />
        <button type="submit" disabled={action.busy.value}>
          Note the code
        </button>
      </form>
      <Failure failure={action.failure.value} />
    </section>
  );
}
