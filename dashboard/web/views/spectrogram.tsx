/** Level over time and frequency, with the noise marks. */
import { useEffect, useMemo, useRef } from 'preact/hooks';
import type { Run } from '../../contract/runs.ts';
import { drawSpectrogram, highestDb, levelBytes, SHOWN_DB } from '../charts/spectrogram.ts';
import { elapsed } from '../run-words.ts';
import { useApp } from '../state/store.ts';
import { Failure, useRead } from './actions.tsx';

interface Props {
  run: Run;
  locationId: number;
  /** Moment at which listening begins, drawn as a line. */
  atMs: number;
  onPick(atMs: number): void;
}

const TICKS = 5;

export function SpectrogramView({ run, locationId, atMs, onPick }: Props) {
  const { api } = useApp();
  const read = useRead(() => api.spectrogram(run.id, locationId), String(locationId));
  const canvas = useRef<HTMLCanvasElement>(null);
  const picture = read.data.value;
  const bytes = useMemo(() => (picture === null ? null : levelBytes(picture)), [picture]);
  useEffect(() => {
    if (canvas.current && picture && bytes) drawSpectrogram(canvas.current, picture, bytes);
  }, [picture, bytes]);
  const name = run.locations.find(({ id }) => id === locationId)?.name ?? '';
  if (picture === null || bytes === null)
    return (
      <section class="panel" aria-labelledby="spectrogram-heading">
        <h2 id="spectrogram-heading">Spectrogram</h2>
        {read.failure.value ? <Failure failure={read.failure.value} /> : <p class="none">Working it out…</p>}
      </section>
    );
  const spanMs = picture.columns * picture.columnMs;
  const topHz = picture.rows * picture.stepHz;
  const high = highestDb(picture, bytes);
  const left = (ms: number) => `${Math.max(0, Math.min(100, (100 * (ms - picture.startMs)) / spanMs))}%`;
  const ticks = Array.from({ length: TICKS }, (_, i) => i / (TICKS - 1));
  return (
    <section class="panel" aria-labelledby="spectrogram-heading">
      <h2 id="spectrogram-heading">Spectrogram: {name}</h2>
      <div class="spectrogram">
        <div class="hertz" aria-hidden="true">
          {[...ticks].reverse().map((share) => (
            <span key={share}>{Math.round((share * topHz) / 10) * 10}</span>
          ))}
        </div>
        <div class="canvas-box">
          <canvas
            ref={canvas}
            role="img"
            aria-label={`Level over time and frequency at ${name}, 0 to ${Math.round(topHz)} Hz; ${run.marks.length} noise marks`}
            onClick={(event) => {
              const box = event.currentTarget.getBoundingClientRect();
              onPick(picture.startMs + (spanMs * (event.clientX - box.left)) / box.width);
            }}
          />
          {run.marks.map((mark) => (
            <span
              key={mark.id}
              class="mark-line"
              style={{
                left: left(mark.atMs),
                width:
                  mark.endMs === null ? '2px' : `max(2px, ${(100 * (mark.endMs - mark.atMs)) / spanMs}%)`,
              }}
            />
          ))}
          <span class="at-line" style={{ left: left(atMs) }} />
        </div>
        <div class="times" aria-hidden="true">
          {ticks.map((share) => (
            <span key={share}>{elapsed(share * spanMs)}</span>
          ))}
        </div>
      </div>
      <p class="scale-legend">
        <span>{Math.round(high - SHOWN_DB)} dB</span>
        <span class="scale-bar" />
        <span>{Math.round(high)} dB</span>
      </p>
      <p class="hint">
        Vertical: frequency in Hz. Horizontal: time since the start. Level in {picture.unit} of acceleration,
        all axes together, largest in each cell. Bars on top: noise marks. Click to listen from there.
      </p>
    </section>
  );
}
