/** Spectrum then and now: two moments of one location over each other. */
import { useSignal } from '@preact/signals';
import { useMemo } from 'preact/hooks';
import type { KeptSpectrum } from '../../contract/model.ts';
import { axisName, moment } from '../format.ts';
import { useApp } from '../state/store.ts';
import {
  bandChanges,
  bandPoints,
  changeText,
  fromLocalTime,
  localTime,
  newestFromMs,
  SPAN_MINUTES,
  type Spectrum,
  sameMount,
  spanWords,
} from '../state/then-now.ts';
import { Failure, useRead } from './actions.tsx';
import { Picture } from './picture.tsx';

const thenNowChart = async (canvas: HTMLCanvasElement) =>
  (await import('../charts/index.ts')).createThenNowChart(canvas);

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;

interface Props {
  locationId: number;
  leadingAxis: string | undefined;
}

export function SpectrumPanel({ locationId, leadingAxis }: Props) {
  const { api, nowMs } = useApp();
  const minutes = useSignal<number>(10);
  const nowFromMs = useSignal(newestFromMs(nowMs.peek(), 10));
  const thenFromMs = useSignal(newestFromMs(nowMs.peek(), 10) - DAY_MS);
  const chosenAxis = useSignal<string | null>(null);
  const read = useMemo(
    () => async () => {
      const spanOf = (fromMs: number) => ({ fromMs, toMs: fromMs + minutes.value * MINUTE_MS });
      const [earlier, later] = await Promise.all([
        api.spectrum(locationId, spanOf(thenFromMs.value)),
        api.spectrum(locationId, spanOf(nowFromMs.value)),
      ]);
      return { earlier, later };
    },
    [locationId],
  );
  const key = `${locationId} ${minutes.value} ${thenFromMs.value} ${nowFromMs.value}`;
  const { data, failure } = useRead(read, key);
  const answer = data.value;
  const [then, now] = [answer?.earlier.spectrum ?? null, answer?.later.spectrum ?? null];
  const nothingYet = answer !== null && [answer.earlier, answer.later].every(isNothing);
  const axes = (now ?? then)?.axes.map(({ axis }) => axis) ?? [];
  const axis = [chosenAxis.value, leadingAxis].find((one) => one && axes.includes(one)) ?? axes[0] ?? 'x';

  return (
    <section class="panel" aria-labelledby="then-now-heading">
      <h2 id="then-now-heading">Spectrum then and now</h2>
      <div class="choices">
        <Moment label="Then, from" atMs={thenFromMs.value} onChange={(atMs) => (thenFromMs.value = atMs)} />
        <Moment label="Now, from" atMs={nowFromMs.value} onChange={(atMs) => (nowFromMs.value = atMs)} />
        <label class="select">
          Averaged over
          <select
            value={minutes.value}
            onChange={(event) => {
              minutes.value = Number(event.currentTarget.value);
            }}
          >
            {SPAN_MINUTES.map((one) => (
              <option key={one} value={one}>
                {spanWords(one)}
              </option>
            ))}
          </select>
        </label>
        {axes.length > 1 && (
          <label class="select">
            Axis of both
            <select
              value={axis}
              onChange={(event) => {
                chosenAxis.value = event.currentTarget.value;
              }}
            >
              {axes.map((name) => (
                <option key={name} value={name}>
                  {axisName(name)}
                </option>
              ))}
            </select>
          </label>
        )}
      </div>
      <Failure failure={failure.value} />
      {nothingYet && (
        <p class="none">None is kept yet: each full minute adds the mean of its sound seconds.</p>
      )}
      {answer && then === null && !nothingYet && (
        <Missing
          what="then"
          nearestMs={answer.earlier.nearestMs}
          onTake={(atMs) => (thenFromMs.value = atMs)}
        />
      )}
      {answer && now === null && !nothingYet && (
        <Missing what="now" nearestMs={answer.later.nearestMs} onTake={(atMs) => (nowFromMs.value = atMs)} />
      )}
      {(then ?? now) && <Comparison then={then} now={now} axis={axis} />}
    </section>
  );
}

const isNothing = ({ spectrum, nearestMs }: KeptSpectrum) => spectrum === null && nearestMs === null;

function Moment({ label, atMs, onChange }: { label: string; atMs: number; onChange(atMs: number): void }) {
  return (
    <label class="select">
      {label}
      <input
        type="datetime-local"
        value={localTime(atMs)}
        onChange={(event) => {
          const chosen = fromLocalTime(event.currentTarget.value);
          if (chosen !== null) onChange(chosen);
        }}
      />
    </label>
  );
}

function Missing({
  what,
  nearestMs,
  onTake,
}: {
  what: 'then' | 'now';
  nearestMs: number | null;
  onTake(atMs: number): void;
}) {
  const { nowMs } = useApp();
  return (
    <p class="none">
      No sound second was kept of “{what}”.{' '}
      {nearestMs !== null && (
        <button type="button" class="quiet" onClick={() => onTake(nearestMs)}>
          Take {moment(nearestMs, nowMs.value)}, the nearest kept
        </button>
      )}
    </p>
  );
}

function Comparison({ then, now, axis }: { then: Spectrum | null; now: Spectrum | null; axis: string }) {
  const { nowMs } = useApp();
  const view = useMemo(
    () => ({ earlier: then ? bandPoints(then, axis) : [], later: now ? bandPoints(now, axis) : [] }),
    [then, now, axis],
  );
  const words = (name: string, { fromMs, toMs, seconds }: Spectrum) =>
    `${name}, ${moment(fromMs, nowMs.value)} to ${moment(toMs, nowMs.value)}, ${seconds} sound seconds.`;
  const changes = then && now ? bandChanges(then, now, axis) : null;
  return (
    <>
      <figure>
        <Picture
          create={thenNowChart}
          view={view}
          label={`Acceleration spectrum, ${axisName(axis)}: now solid, then dashed`}
        />
        <figcaption class="hint">
          {now && `Solid: ${words('now', now)} `}
          {then && `Dashed: ${words('then', then)} `}
          Bands of a twelfth of an octave. Compare like with like: another speed moves lines, another load
          changes them.
        </figcaption>
      </figure>
      {then && now && !sameMount(then, now) && (
        <p>
          <strong>Another sensor, or a clamp set anew, stood here then:</strong> levels and axes need not
          match.
        </p>
      )}
      {changes !== null &&
        (changes.length === 0 ? (
          <p>No band of {axisName(axis)} that matters changed by 3 dB or more.</p>
        ) : (
          <>
            <p>Greatest changes, {axisName(axis)}:</p>
            <ul>
              {changes.map((change) => (
                <li key={change.bandHz[0]}>{changeText(change)}</li>
              ))}
            </ul>
          </>
        ))}
    </>
  );
}
