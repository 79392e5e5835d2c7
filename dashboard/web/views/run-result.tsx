/** A run that has ended: what was found, and what it was found from. */
import { useComputed, useSignal } from '@preact/signals';
import type { CompareResult } from '../../contract/inquiries.ts';
import type { Asset } from '../../contract/model.ts';
import type { Run } from '../../contract/runs.ts';
import { clock, moment } from '../format.ts';
import { elapsed, kindWords, sourceWords } from '../run-words.ts';
import { useApp, useIsShop } from '../state/store.ts';
import { ConfirmButton, Failure, useAction, useRead } from './actions.tsx';
import { Compare, Peers } from './compare.tsx';
import { Follow } from './follow.tsx';
import { Listen } from './listen.tsx';
import { NoiseHeard } from './manoeuvres.tsx';
import { ReportLinks } from './report-links.tsx';
import { RunChecks, RunNotes, RunOutcome } from './run-notes.tsx';
import { SlipPanel } from './slip.tsx';
import { SpectrogramView } from './spectrogram.tsx';
import { Title } from './title.tsx';
import { TroubleCodes } from './trouble-codes.tsx';

interface Props {
  run: Run;
  asset: Asset | undefined;
  onChanged(): void;
}

export function RunResult({ run, asset, onChanged }: Props) {
  const { nowMs } = useApp();
  const facts = [
    kindWords(run.kind).label,
    moment(run.startMs, nowMs.value),
    elapsed((run.endMs ?? run.startMs) - run.startMs),
    ...(run.operator ? [run.operator] : []),
    ...(run.odometerKm === null ? [] : [`${run.odometerKm} km`]),
    ...(run.source === 'import' ? ['imported recording'] : []),
  ];
  return (
    <>
      <Title tab={`Run, ${asset?.name ?? ''}`}>Run of {asset?.name ?? `asset ${run.assetId}`}</Title>
      <p class="lead">{facts.join(' · ')}</p>
      <Findings run={run} />
      <RunOutcome run={run} onChanged={onChanged} />
      <ReportLinks path={`/api/runs/${run.id}/report`} />
      <div class="run-columns">
        <ManoeuvreResults run={run} onChanged={onChanged} />
        <MarkList run={run} onChanged={onChanged} />
      </div>
      <div class="run-columns">
        <RunNotes run={run} onChanged={onChanged} />
        <div class="stack">
          <RunChecks run={run} onChanged={onChanged} />
          <TroubleCodes run={run} onChanged={onChanged} />
        </div>
      </div>
      <Keeping run={run} onChanged={onChanged} />
    </>
  );
}

/** Comparison, sound and picture share the location and the moment looked at. */
function Findings({ run }: { run: Run }) {
  const { api, state } = useApp();
  const stale = useComputed(() => state.value.runsStale).value;
  const last = useRead(() => api.lastCompare(run.id), String(stale));
  const fresh = useSignal<CompareResult | null>(null);
  const result = fresh.value ?? last.data.value;
  const place = useSignal<number | null>(null);
  const from = useSignal<number | null>(null);
  const leader = Number(result?.comparison.verdict.locationId ?? Number.NaN);
  const locationId =
    place.value ?? run.locations.find(({ id }) => id === leader)?.id ?? run.locations[0]?.id ?? null;
  const fromMs = from.value ?? Math.max(run.startMs, (run.marks[0]?.atMs ?? run.startMs) - 2_000);
  const move = (atMs: number) => {
    from.value = atMs;
  };
  return (
    <>
      <Compare
        run={run}
        result={result}
        onResult={(answer) => {
          fresh.value = answer;
        }}
      />
      {locationId !== null && (
        <div class="run-columns wide">
          <SpectrogramView run={run} locationId={locationId} atMs={fromMs} onPick={move} />
          <Listen
            run={run}
            bandHz={bandOf(result)}
            fromMs={fromMs}
            onMove={move}
            locationId={locationId}
            onLocation={(id) => {
              place.value = id;
            }}
          />
        </div>
      )}
      <Follow run={run} />
      <SlipPanel run={run} />
      <Peers run={run} />
    </>
  );
}

/** Band of the verdict, else where the noise rises most: there is something to hear. */
function bandOf(result: CompareResult | null): readonly number[] | null {
  const rise = result?.marks?.rises[0];
  return result?.comparison.verdict.bandHz ?? (rise?.fromHz === undefined ? null : [rise.fromHz, rise.toHz]);
}

function ManoeuvreResults({ run, onChanged }: Omit<Props, 'asset'>) {
  const { api } = useApp();
  const guides = useRead(() => api.manoeuvres(), 'once');
  const said = run.manoeuvres.map(({ noise, pitch }) => `${noise}${pitch}`).join();
  const review = useRead(() => api.suspects(run.id), said);
  const staying = review.data.value?.suspects.filter(({ standing }) => standing === 'stays') ?? [];
  return (
    <section class="panel" aria-labelledby="manoeuvre-results">
      <h2 id="manoeuvre-results">Manoeuvres</h2>
      {run.manoeuvres.length === 0 ? (
        <p class="none">None was made. They separate the suspects without any tool.</p>
      ) : (
        <>
          <ol class="plain">
            {run.manoeuvres.map((one) => {
              const title = guides.data.value?.find(({ id }) => id === one.manoeuvre)?.title ?? one.manoeuvre;
              return (
                <li key={one.id}>
                  <NoiseHeard
                    run={run}
                    manoeuvre={one}
                    title={`${clock(one.startMs, true)} ${title}`}
                    onChanged={onChanged}
                  />
                </li>
              );
            })}
          </ol>
          <p>{review.data.value?.sentence}</p>
          {staying.some(({ supports }) => supports.length > 0) && (
            <details>
              <summary>Why</summary>
              <ul>
                {review.data.value?.suspects.map(({ id, title, standing, supports, against }) => (
                  <li key={id}>
                    <strong>{title}</strong>: {standing}.{' '}
                    {supports.length > 0 && `For: ${supports.join('; ')}. `}
                    {against.length > 0 && `Against: ${against.join('; ')}.`}
                  </li>
                ))}
              </ul>
            </details>
          )}
        </>
      )}
      <Failure failure={review.failure.value} />
    </section>
  );
}

function MarkList({ run, onChanged }: Omit<Props, 'asset'>) {
  const { api } = useApp();
  const action = useAction();
  return (
    <section class="panel" aria-labelledby="marks-heading">
      <h2 id="marks-heading">Noise marks</h2>
      {run.marks.length === 0 ? (
        <p class="none">None. Without marks the whole run counts as noise.</p>
      ) : (
        <ul class="plain mark-list">
          {run.marks.map((mark) => (
            <li key={mark.id}>
              <span>
                {clock(mark.atMs, true)}
                {mark.endMs !== null && ` for ${Math.max(1, Math.round((mark.endMs - mark.atMs) / 1000))} s`}{' '}
                · {sourceWords(mark.source)}
                {mark.by && ` · ${mark.by}`}
                {mark.note && ` · ${mark.note}`}
              </span>
              <button
                type="button"
                class="quiet"
                disabled={action.busy.value}
                aria-label={`Remove the mark of ${clock(mark.atMs, true)}`}
                onClick={() =>
                  void action.run(async () => {
                    await api.removeMark(run.id, mark.id);
                    onChanged();
                  })
                }
              >
                Remove
              </button>
            </li>
          ))}
        </ul>
      )}
      <Failure failure={action.failure.value} />
    </section>
  );
}

function Keeping({ run, onChanged }: Omit<Props, 'asset'>) {
  const { api, goTo } = useApp();
  const isShop = useIsShop();
  const action = useAction();
  return (
    <section class="panel" aria-labelledby="keeping-heading">
      <h2 id="keeping-heading">Raw samples</h2>
      <p>
        {run.kept
          ? 'Kept with this run, whatever the journal’s age and size.'
          : 'Not kept for this run: they go when the journal’s time or room runs out, and sound and comparison with them.'}
      </p>
      <div class="buttons">
        {run.source === 'station' && (
          <button
            type="button"
            disabled={action.busy.value}
            onClick={() =>
              void action.run(async () => {
                await api.changeRun(run.id, { kept: !run.kept });
                onChanged();
              })
            }
          >
            {run.kept ? 'Release the raw samples' : 'Keep the raw samples'}
          </button>
        )}
        {isShop && (
          <ConfirmButton
            label="Delete this run"
            question="Delete this run?"
            confirm="Delete"
            onConfirm={async () => {
              await api.deleteRun(run.id);
              goTo('/runs');
            }}
          >
            <p>
              Its marks, notes and results go with it, and its raw samples are released. This cannot be
              undone.
            </p>
          </ConfirmButton>
        )}
      </div>
      <Failure failure={action.failure.value} />
    </section>
  );
}
