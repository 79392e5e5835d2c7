/** Which location makes the noise: the verdict in a sentence, and what it rests on. */
import { useSignal } from '@preact/signals';
import type { BandRow, CompareResult } from '../../contract/inquiries.ts';
import type { Run, VehicleQuantity } from '../../contract/runs.ts';
import { VEHICLE } from '../run-words.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';
import { Connections, LineSizes } from './compare-evidence.tsx';
import { type Narrow, NarrowDown, narrowed } from './narrow-down.tsx';
import { manoeuvreOf, RunLocationSelect, RunPartSelect, WHOLE_RUN } from './run-selects.tsx';

interface Props {
  run: Run;
  result: CompareResult | null;
  onResult(result: CompareResult): void;
}

export function Compare({ run, result, onResult }: Props) {
  const { api } = useApp();
  const action = useAction();
  const part = useSignal(WHOLE_RUN);
  const ignoreMarks = useSignal(false);
  const narrow = useSignal<Narrow>({ lowHz: '', highHz: '', defectHz: '', leftOut: [] });
  const ask = () =>
    void action.run(async () => {
      onResult(
        await api.compare(run.id, {
          ...manoeuvreOf(part.value),
          ...(ignoreMarks.value ? { ignoreMarks: true } : {}),
          ...narrowed(narrow.value, run),
        }),
      );
    });
  return (
    <section class="panel strong" aria-labelledby="compare-heading">
      <h2 id="compare-heading">Which location makes the noise?</h2>
      {result && <Verdict result={result} />}
      <div class="in-line compare-form">
        <RunPartSelect label="Part of the run" whole="All of it" run={run} part={part} />
        {run.marks.length > 0 && (
          <div class="list">
            <label>
              <input
                type="checkbox"
                checked={ignoreMarks.value}
                onChange={(event) => {
                  ignoreMarks.value = event.currentTarget.checked;
                }}
              />
              <span>Compare all seconds, whatever is marked</span>
            </label>
          </div>
        )}
      </div>
      <NarrowDown fields={narrow} run={run} />
      <div class="buttons">
        <button type="button" class="main" disabled={action.busy.value} onClick={ask}>
          {action.busy.value ? 'Comparing…' : result ? 'Compare again' : 'Compare the locations'}
        </button>
      </div>
      <Failure failure={action.failure.value} />
      {result && <Support result={result} />}
    </section>
  );
}

function Verdict({ result }: { result: CompareResult }) {
  const { verdict, cautions } = result.comparison;
  // A long sentence in two, so that a phone shows first what is known and then what to do.
  const [known, settle] = verdict.sentence.split(/ (?=To settle it, )/);
  return (
    <div class="verdict" role="status">
      <p class="sentence">{known}</p>
      {settle && <p>{settle}</p>}
      <ul class="hint">
        {[...result.notes, ...cautions].map((text) => (
          <li key={text}>{text}</li>
        ))}
        {result.missing.map(({ locationId, name, reason }) => (
          <li key={locationId}>
            Not compared: {name} ({reason}).
          </li>
        ))}
        {result.locations
          .filter(({ unusableSeconds }) => unusableSeconds > 0)
          .map(({ locationId, name, unusableSeconds }) => (
            <li key={locationId}>
              Left out: {unusableSeconds} s in which the {name} has no whole, sound samples (a gap, or beyond
              its range).
            </li>
          ))}
      </ul>
    </div>
  );
}

function Support({ result }: { result: CompareResult }) {
  const { bands } = result.comparison;
  const loudest = (band: BandRow) => Math.max(...band.levels.map(({ levelDb }) => levelDb));
  const out = bands.filter(({ standsOut }) => standsOut);
  const first = new Set([...out].sort((a, b) => loudest(b) - loudest(a)).slice(0, SHOWN_BANDS));
  const rest = bands.filter((band) => !first.has(band));
  const paired = result.comparison.quietWindows.length > 0;
  return (
    <>
      <p class="hint">
        {result.comparison.windows.length} seconds compared
        {paired ? `, against ${result.comparison.quietWindows.length} quiet ones` : ''}. Levels in dB re 1
        µm/s², with their uncertainty (about 95 %).
      </p>
      {result.marks && <p>{result.marks.sentence}</p>}
      <LineSizes result={result} />
      <BandList
        bands={out.filter((band) => first.has(band))}
        result={result}
        caption="The loudest bands of the noise"
      />
      {rest.length > 0 && (
        <details>
          <summary>
            The other {rest.length} bands; the noise stands out in {out.length - first.size} of them
          </summary>
          <BandList bands={rest} result={result} caption="Other bands" />
        </details>
      )}
      <Connections result={result} />
    </>
  );
}

/** More at once is more than anybody reads; the others are one click away. */
const SHOWN_BANDS = 6;
/** Widest bar for the highest level of the list; a bar for this far below it is empty. */
const BAR_DB = 30;

function BandList({
  bands,
  result,
  caption,
}: {
  bands: readonly BandRow[];
  result: CompareResult;
  caption: string;
}) {
  if (bands.length === 0) return null;
  const highest = Math.max(...bands.flatMap(({ levels }) => levels.map(({ levelDb }) => levelDb)));
  const name = (id: string) =>
    result.locations.find(({ locationId }) => String(locationId) === id)?.name ?? id;
  const windows = result.comparison.windows.length;
  return (
    <figure>
      <figcaption>{caption}</figcaption>
      <ol class="bands">
        {bands.map((band) => (
          <li key={band.nominalHz}>
            <p class="band-head">
              <strong>{band.nominalHz} Hz</strong> lead {band.leadDb.toFixed(1)} ±{' '}
              {band.uncertaintyDb.toFixed(1)} dB, ahead in {band.windowsLed} of {`${windows}\u00a0s`}
            </p>
            <ol class="ranking">
              {[...band.levels]
                .sort((a, b) => b.levelDb - a.levelDb)
                .map(({ locationId, levelDb, uncertaintyDb, atMost }) => (
                  <li key={locationId}>
                    <span
                      class="level-bar"
                      style={{ width: `${Math.max(2, 100 * (1 - (highest - levelDb) / BAR_DB))}%` }}
                    />
                    <span class="figure">
                      {atMost ? '≤ ' : ''}
                      {levelDb.toFixed(1)} ± {uncertaintyDb.toFixed(1)} dB
                    </span>{' '}
                    {name(locationId)}
                  </li>
                ))}
            </ol>
          </li>
        ))}
      </ol>
    </figure>
  );
}

const quantityName = (quantity: string) =>
  (VEHICLE[quantity as VehicleQuantity]?.name ?? quantity).toLowerCase();

/** The same location on the fleet's other assets. */
export function Peers({ run }: { run: Run }) {
  const { api } = useApp();
  const action = useAction();
  const chosen = useSignal(run.locations[0]?.id ?? 0);
  const found = useSignal<Awaited<ReturnType<typeof api.peers>> | null>(null);
  const forget = () => {
    found.value = null;
  };
  if (run.locations.length === 0) return null;
  return (
    <section class="panel" aria-labelledby="peers-heading">
      <h2 id="peers-heading">Against sister vehicles</h2>
      <RunLocationSelect label="Location" run={run} chosen={chosen} onChosen={forget} />
      <button
        type="button"
        disabled={action.busy.value}
        onClick={() =>
          void action.run(async () => {
            found.value = await api.peers(run.id, { locationId: chosen.value });
          })
        }
      >
        {action.busy.value ? 'Comparing…' : 'Compare with the others'}
      </button>
      <Failure failure={action.failure.value} />
      {found.value && (
        <>
          <p>{found.value.sentence}</p>
          <ul class="hint">
            {found.value.assets.map(({ assetName, runId, seconds, compared }) => (
              <li key={runId}>
                {assetName}, newest run of the same kind: {seconds} s
                {compared.length > 0 && ` at like ${compared.map(quantityName).join(', ')}`}.
              </li>
            ))}
            {found.value.leftOut.map(({ assetName, runId, reason }) => (
              <li key={runId}>
                Left out: {assetName} ({reason}).
              </li>
            ))}
            {found.value.notes.map((text) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
        </>
      )}
    </section>
  );
}
