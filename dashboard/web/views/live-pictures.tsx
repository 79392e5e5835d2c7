/** Waveform and spectrum of the newest second, for one axis. */
import { useComputed, useSignal } from '@preact/signals';
import { useEffect, useMemo, useRef } from 'preact/hooks';
import { axisName, clock, frequency, significant } from '../format.ts';
import {
  axisEnd,
  highestPoint,
  largestMagnitude,
  spectrumPoints,
  waveformPoints,
} from '../state/live-series.ts';
import type { Live } from '../state/state.ts';
import { useApp } from '../state/store.ts';
import { Choice } from './forms.tsx';
import { Picture } from './picture.tsx';

const waveformChart = async (canvas: HTMLCanvasElement) =>
  (await import('../charts/index.ts')).createWaveformChart(canvas);
const spectrumChart = async (canvas: HTMLCanvasElement) =>
  (await import('../charts/index.ts')).createSpectrumChart(canvas);

const BLOCK_S = 1;
/** The block's own second, and as long as a reading may take before it counts as late. */
const STOPPED_AFTER_MS = 6_000;

export function LivePictures({
  locationId,
  leadingAxis,
}: {
  locationId: number;
  leadingAxis: string | undefined;
}) {
  const { state, nowMs, dispatch } = useApp();
  const chosen = useSignal<string | null>(null);
  const scale = useSignal<'linear' | 'logarithmic'>('linear');
  const held = useSignal<Live | null>(null);

  useEffect(() => {
    dispatch({ type: 'watch', locationId });
    return () => dispatch({ type: 'watch', locationId: null });
  }, [locationId, dispatch]);

  const incoming = useComputed(() => state.value.live).value;
  const stopped = useComputed(() => {
    const { live } = state.value;
    return live !== null && nowMs.value - live.startMs > STOPPED_AFTER_MS;
  }).value;
  const live = held.value ?? incoming;
  if (live === null)
    return (
      <section class="panel" aria-labelledby="live-heading">
        <h2 id="live-heading">Live</h2>
        <p class="none">Waiting for the next second of this sensor…</p>
      </section>
    );

  const axes = live.axes.map(({ axis }) => axis);
  // The choice stays with the person; until they choose, the axis that led on arrival stays.
  if (chosen.value === null) chosen.value = axes.find((axis) => axis === leadingAxis) ?? axes[0] ?? null;
  const axis = live.axes.find((entry) => entry.axis === chosen.value) ?? live.axes[0];

  return (
    <section class="panel live" aria-labelledby="live-heading">
      <header>
        <h2 id="live-heading">
          {held.value || stopped
            ? `${held.value ? 'Held at' : 'Stopped at'} ${clock(live.startMs, true)}`
            : 'Live'}
        </h2>
        <button
          type="button"
          aria-pressed={held.value !== null}
          onClick={() => {
            held.value = held.value === null ? incoming : null;
          }}
        >
          Hold
        </button>
      </header>
      <div class="choices">
        {axes.length > 1 && axis && (
          <Choice
            legend="Axis"
            value={axis.axis as string}
            options={axes.map((name) => ({ value: name as string, label: axisName(name) }))}
            onChoose={(name) => {
              chosen.value = name;
            }}
          />
        )}
        <Choice
          legend="Spectrum scale"
          value={scale.value}
          options={[
            { value: 'linear', label: 'Linear' },
            { value: 'logarithmic', label: 'Logarithmic' },
          ]}
          onChoose={(value) => {
            scale.value = value;
          }}
        />
      </div>
      {axis && (
        <Pictures key={axis.axis} live={live} axis={axis} logarithmic={scale.value === 'logarithmic'} />
      )}
    </section>
  );
}

interface PicturesProps {
  live: Live;
  axis: Live['axes'][number];
  logarithmic: boolean;
}

function Pictures({ live, axis, logarithmic }: PicturesProps) {
  const ends = useRef<{ waveform: number | null; spectrum: number | null }>({
    waveform: null,
    spectrum: null,
  });
  const name = axisName(axis.axis);
  const view = useMemo(() => {
    const lines = spectrumPoints(axis.spectrumMPerS2, live.spectrumStepHz);
    const highest = highestPoint(lines);
    ends.current = {
      waveform: axisEnd(ends.current.waveform, largestMagnitude(axis.waveformMPerS2)),
      spectrum: axisEnd(ends.current.spectrum, highest?.y ?? 0),
    };
    return {
      highest,
      waveform: {
        points: waveformPoints(axis.waveformMPerS2, BLOCK_S),
        durationS: BLOCK_S,
        axisEnd: ends.current.waveform!,
      },
      spectrum: {
        points: lines,
        highestHz: axis.spectrumMPerS2.length * live.spectrumStepHz,
        axisEnd: ends.current.spectrum!,
        logarithmic,
      },
    };
  }, [live, axis, logarithmic]);

  return (
    <div class="two">
      <figure>
        <figcaption>Waveform, {name}</figcaption>
        <Picture create={waveformChart} view={view.waveform} label={`Waveform of acceleration, ${name}`} />
        <p class="hint">
          Largest swing {significant(largestMagnitude(axis.waveformMPerS2))} m/s², mean removed,{' '}
          {significant(live.sampleRateHz, 5)} samples per second.
        </p>
      </figure>
      <figure>
        <figcaption>Spectrum, {name}</figcaption>
        <Picture
          create={spectrumChart}
          view={view.spectrum}
          label={`Amplitude spectrum of acceleration, ${name}`}
        />
        <p class="hint">
          {view.highest
            ? `Highest line at ${frequency(view.highest.x, live.spectrumStepHz)} Hz: ${significant(view.highest.y)} m/s² RMS.`
            : 'No line.'}{' '}
          Lines {Number(live.spectrumStepHz.toPrecision(3))} Hz apart.
        </p>
      </figure>
    </div>
  );
}
