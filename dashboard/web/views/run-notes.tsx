/** What people know of a run: outcome, cheap checks, complaint, notes. Saved field by field. */
import { useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import type { Check, Run, RunChange } from '../../contract/runs.ts';
import { CHECK_STATES, CHECKS, COMPLAINT, OUTCOMES } from '../run-words.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';
import { Choice } from './forms.tsx';

interface Props {
  run: Run;
  onChanged(): void;
}

function useSave({ run, onChanged }: Props) {
  const { api } = useApp();
  const action = useAction();
  const saved = useSignal('');
  return {
    action,
    saved,
    save(change: Partial<RunChange>, what: string) {
      saved.value = '';
      void action.run(async () => {
        await api.changeRun(run.id, change);
        saved.value = `${what} saved.`;
        onChanged();
      });
    },
  };
}

export function RunOutcome(props: Props) {
  const { action, save } = useSave(props);
  const { run } = props;
  const chosen = OUTCOMES.find(({ value }) => value === run.outcome);
  return (
    <section class="panel" aria-labelledby="outcome-heading">
      <h2 id="outcome-heading">Outcome</h2>
      <Choice
        legend="Did the noise come?"
        value={run.outcome ?? ('' as 'aborted')}
        options={OUTCOMES}
        onChoose={(outcome) => save({ outcome }, 'Outcome')}
      />
      {chosen && <p class="hint">{chosen.explanation}</p>}
      <Failure failure={action.failure.value} />
    </section>
  );
}

export function RunChecks(props: Props) {
  const { action, save, saved } = useSave(props);
  const { run } = props;
  const stateOf = (id: Check['id']): Check =>
    run.checks.find((check) => check.id === id) ?? { id, state: 'not-done', note: '' };
  return (
    <section class="panel" aria-labelledby="checks-heading">
      <h2 id="checks-heading">Cheap checks first</h2>
      <p class="hint">Before anything is taken apart. Common practice, no source.</p>
      {CHECKS.map(({ id, label, hint }) => (
        <div key={id} class="check">
          <Choice
            legend={label}
            value={stateOf(id).state}
            options={CHECK_STATES}
            onChoose={(state) => save({ checks: [{ ...stateOf(id), state }] }, label)}
          />
          <p class="hint">{hint}</p>
          {stateOf(id).state === 'fault-found' && (
            <SavedField
              label={`${label}: what was found`}
              value={stateOf(id).note}
              onSave={(note) => save({ checks: [{ ...stateOf(id), note: note.slice(0, 300) }] }, label)}
            />
          )}
        </div>
      ))}
      <Failure failure={action.failure.value} />
      <p role="status" class="hint">
        {saved.value}
      </p>
    </section>
  );
}

export function RunNotes(props: Props) {
  const { action, save, saved } = useSave(props);
  const { run } = props;
  return (
    <section class="panel" aria-labelledby="complaint-heading">
      <h2 id="complaint-heading">Complaint and notes</h2>
      <div class="stack">
        {COMPLAINT.map(({ key, label }) => (
          <SavedField
            key={key}
            label={label}
            value={run.complaint[key]}
            onSave={(text) => save({ complaint: { [key]: text.slice(0, 200) } }, label)}
          />
        ))}
        <SavedField
          label="Odometer, km"
          value={run.odometerKm === null ? '' : String(run.odometerKm)}
          onSave={(text) => {
            const number = Number(text.replace(',', '.'));
            if (text === '') save({ odometerKm: null }, 'Odometer');
            else if (Number.isFinite(number) && number >= 0) save({ odometerKm: number }, 'Odometer');
          }}
        />
        <SavedField label="Notes" value={run.notes} onSave={(notes) => save({ notes }, 'Notes')} long />
      </div>
      <Failure failure={action.failure.value} />
      <p role="status" class="hint">
        {saved.value}
      </p>
    </section>
  );
}

interface SavedFieldProps {
  label: string;
  value: string;
  onSave(value: string): void;
  long?: boolean;
}

/** Saves when the person leaves the field, if anything changed. */
function SavedField({ label, value, onSave, long }: SavedFieldProps) {
  const id = useId();
  const onChange = (event: { currentTarget: HTMLInputElement | HTMLTextAreaElement }) => {
    const text = event.currentTarget.value.trim();
    if (text !== value) onSave(text);
  };
  return (
    <div class="field">
      <label for={id}>{label}</label>
      {long ? (
        <textarea id={id} rows={4} maxLength={4000} onChange={onChange} defaultValue={value} />
      ) : (
        <input id={id} maxLength={200} onChange={onChange} defaultValue={value} autocomplete="off" />
      )}
    </div>
  );
}
