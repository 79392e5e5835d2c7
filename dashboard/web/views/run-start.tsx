/** Before a run: which asset, what kind, what the complaint is, and the cheap checks first. */
import { useComputed, useSignal } from '@preact/signals';
import { useSearch } from 'wouter-preact';
import type { RunKind } from '../../contract/runs.ts';
import { COMPLAINT, KINDS, kindWords } from '../run-words.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';
import { Choice, Field, fieldText } from './forms.tsx';
import { Title } from './title.tsx';

export function RunStart() {
  const { state, api, goTo } = useApp();
  const assets = useComputed(() => state.value.assets).value;
  const asked = Number(new URLSearchParams(useSearch()).get('asset'));
  const chosen = useSignal<number | null>(null);
  const kind = useSignal<RunKind | null>(null);
  const action = useAction();
  if (assets === null) return <p>Reading the list of assets…</p>;
  const asset = assets.find(({ id }) => id === (chosen.value ?? asked)) ?? assets[0];
  if (asset === undefined)
    return (
      <>
        <Title>Start a run</Title>
        <p>
          There is no asset yet. <a href="/assets">Add a vehicle or machine first</a>.
        </p>
      </>
    );
  const how = kind.value ?? (asset.kind === 'vehicle' ? 'road' : 'bench');
  const sensors = asset.locations.filter(({ mount }) => mount !== null).length;
  const submit = (event: Event) => {
    event.preventDefault();
    const complaint = Object.fromEntries(COMPLAINT.map(({ key }) => [key, fieldText(event, key)]));
    const odometer = fieldText(event, 'odometerKm').replace(',', '.');
    void action.run(async () => {
      const run = await api.startRun({
        assetId: asset.id,
        kind: how,
        odometerKm: odometer === '' ? null : Number(odometer),
        complaint,
      });
      goTo(`/runs/${run.id}`);
    });
  };
  return (
    <>
      <Title>Start a run</Title>
      <form class="run-start" onSubmit={submit}>
        <label class="select">
          Vehicle or machine
          <select
            value={asset.id}
            onChange={(event) => {
              chosen.value = Number(event.currentTarget.value);
            }}
          >
            {assets.map(({ id, name }) => (
              <option key={id} value={id}>
                {name}
              </option>
            ))}
          </select>
        </label>
        <p class="hint">
          {sensors} of {asset.locations.length} locations have a sensor.
          {sensors < 2 && ' Two or more are needed to compare locations.'}
        </p>
        <Choice
          legend="Where"
          value={how}
          options={KINDS.map((entry) => ({ value: entry.kind, label: entry.label }))}
          onChoose={(value) => {
            kind.value = value;
          }}
        />
        <section class="caution-box" aria-label="Cautions for this kind of run">
          <ul>
            {kindWords(how).cautions.map((text) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
        </section>
        <Failure failure={action.failure.value} />
        <button type="submit" class="main giant" disabled={action.busy.value}>
          Start the run
        </button>
        <details>
          <summary>Complaint and odometer (can be filled in later)</summary>
          <div class="stack">
            {COMPLAINT.map(({ key, label, hint }) => (
              <Field key={key} label={label} name={key} hint={hint} maxLength={200} autocomplete="off" />
            ))}
            <Field
              label="Odometer, km"
              name="odometerKm"
              inputMode="decimal"
              pattern="[0-9]+([.,][0-9]+)?"
              maxLength={9}
              autocomplete="off"
            />
          </div>
        </details>
      </form>
    </>
  );
}
