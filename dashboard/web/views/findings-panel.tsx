/** What looks into the samples of a location found: the newest in words and picture, and the history. */
import { useSignal } from '@preact/signals';
import type { FindingRecord } from '../../contract/drive-train.ts';
import { conditionsText, findingSentence, isPart, rivalText, verdictText } from '../finding-words.ts';
import { moment } from '../format.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction, useRead } from './actions.tsx';
import { Field, fieldText } from './forms.tsx';

export function FindingsPanel({ locationId, mounted }: { locationId: number; mounted: boolean }) {
  const { api } = useApp();
  const history = useRead<FindingRecord[]>(() => api.findings(locationId), String(locationId));
  const looks = history.data.value;
  const newest = looks?.[0];
  return (
    <section class="panel findings" aria-labelledby="findings-heading">
      <h2 id="findings-heading">Findings</h2>
      {looks?.length === 0 && <p class="none">Nobody has looked into the samples of this location yet.</p>}
      <Failure failure={history.failure.value} />
      {newest && <Look look={newest} />}
      {mounted && <LookNow locationId={locationId} onLooked={history.again} />}
      {looks && looks.length > 1 && <History looks={looks.slice(1)} />}
    </section>
  );
}

function Look({ look }: { look: FindingRecord }) {
  const { nowMs } = useApp();
  const { verdict, bearing, reason, findings } = look;
  return (
    <>
      <p>
        <strong>{verdictText(verdict, bearing)}.</strong> {sentence(reason)}
      </p>
      {findings.length > 0 && (
        <ul>
          {findings.map((finding) => (
            <li key={`${finding.kind} ${finding.frequencyHz}`}>
              {findingSentence(finding, bearing)} {sentence(finding.note)}
              {finding.rivals.length > 0 && (
                <p class="hint">Other explanations: {finding.rivals.map(rivalText).join('; ')}.</p>
              )}
            </li>
          ))}
        </ul>
      )}
      <p class="hint">
        {moment(look.atMs, nowMs.value)}
        {look.by === null ? ', by the station itself' : `, by ${look.by}`}. {conditionsText(look)}
      </p>
      {isPart(verdict) && (
        <p class="hint">
          A wheel bearing, brake, steering or structure under suspicion is not one to watch: have it inspected
          by a licensed technician before the vehicle is used.
        </p>
      )}
      {look.picture && (
        <img
          class="analysis"
          src={`/api/findings/${look.id}/picture`}
          width="1000"
          height="760"
          alt={`Spectrum and envelope spectrum of this look. ${verdictText(verdict, bearing)}.`}
        />
      )}
    </>
  );
}

function LookNow({ locationId, onLooked }: { locationId: number; onLooked(): void }) {
  const { api } = useApp();
  const action = useAction();
  const done = useSignal(false);
  const submit = (event: Event) => {
    event.preventDefault();
    const typed = fieldText(event, 'speed').replace(',', '.');
    done.value = false;
    void action.run(async () => {
      await api.lookForFindings(locationId, typed === '' ? {} : { speedRpm: Number(typed) });
      onLooked();
      done.value = true;
    });
  };
  return (
    <form onSubmit={submit}>
      <Field
        label="Speed of the shaft, revolutions per minute"
        name="speed"
        inputMode="decimal"
        pattern="[0-9]+([.,][0-9]+)?"
        autocomplete="off"
        hint="Leave empty where the asset’s own speed or the vehicle’s data are known."
      />
      <Failure failure={action.failure.value} />
      <div class="buttons">
        <button type="submit" disabled={action.busy.value}>
          {action.busy.value ? 'Looking into the last 10 seconds…' : 'Look now'}
        </button>
        <span role="status">{done.value ? 'Looked: see above.' : ''}</span>
      </div>
    </form>
  );
}

function History({ looks }: { looks: FindingRecord[] }) {
  const { nowMs } = useApp();
  return (
    <details>
      <summary>Earlier looks</summary>
      <ul>
        {looks.map((look) => (
          <li key={look.id}>
            {moment(look.atMs, nowMs.value)}: {verdictText(look.verdict, look.bearing)}
            {look.findings[0] && `. ${findingSentence(look.findings[0], look.bearing)}`}
          </li>
        ))}
      </ul>
    </details>
  );
}

function sentence(text: string): string {
  return text === '' ? '' : `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;
}
