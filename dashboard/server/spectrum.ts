import { bandEdgeHz, type MeanSpectrum, type ReadingReader } from '../../collector/index.ts';
import type { SpectrumQuery } from '../contract/http.ts';
import type { KeptSpectrum } from '../contract/model.ts';
import { Refusal } from './errors.ts';
import type { MountRecord } from './records/mounts.ts';
import type { RecordStore } from './records/record-store.ts';
import { ask, checkSpan } from './trend.ts';
import { coveredSpan } from './view.ts';

const MINUTE_MS = 60_000;
const LONGEST_SPAN_MS = 86_400_000;

interface Sources {
  records: RecordStore;
  readings: ReadingReader;
  now(): number;
}

/**
 * Mean spectrum of a location over a span. Where several sensors stood there in turn, the one that measured most of
 * it answers: axes and clamping of two cannot be mixed.
 */
export async function spectrumOfLocation(
  { records, readings, now }: Sources,
  locationId: number,
  { fromMs, toMs }: SpectrumQuery,
): Promise<KeptSpectrum> {
  records.assets.location(locationId);
  checkSpan({ fromMs, toMs });
  if (toMs - fromMs > LONGEST_SPAN_MS)
    throw new Refusal('SPAN_TOO_LONG', { field: 'toMs', message: 'The span is longer than one day.' });
  let best: { mount: MountRecord; found: MeanSpectrum } | null = null;
  for (const mount of records.mounts.history(locationId, fromMs, toMs)) {
    const span = wholeMinutes(mount);
    const found = await ask(
      readings.spectrum(mount, Math.max(fromMs, span.fromMs), Math.min(toMs, span.toMs)),
    );
    if (found !== null && found.blocks > (best?.found.blocks ?? 0)) best = { mount, found };
  }
  if (best !== null) return { spectrum: spectrumView(best.found, best.mount), nearestMs: null };
  return { spectrum: null, nearestMs: await nearestMs({ records, readings, now }, locationId, fromMs) };
}

/** Beginnings of minutes that lie wholly inside a mount. */
function wholeMinutes(mount: MountRecord): { fromMs: number; toMs: number } {
  const { fromMs, toMs } = coveredSpan(mount);
  return { fromMs, toMs: Math.floor(toMs / MINUTE_MS) * MINUTE_MS };
}

async function nearestMs(
  { records, readings, now }: Sources,
  locationId: number,
  atMs: number,
): Promise<number | null> {
  let nearest: number | null = null;
  for (const mount of records.mounts.history(locationId, 0, now())) {
    const { fromMs, toMs } = wholeMinutes(mount);
    const found = await ask(readings.nearestSpectrumMs(mount, atMs, fromMs, toMs));
    if (found !== null && Math.abs(found - atMs) < Math.abs((nearest ?? Number.POSITIVE_INFINITY) - atMs))
      nearest = found;
  }
  return nearest;
}

function spectrumView(
  { fromMs, toMs, blocks, axes, firstBand, density }: MeanSpectrum,
  { nodeId, sensor, fromMs: sinceMs }: MountRecord,
): NonNullable<KeptSpectrum['spectrum']> {
  const bands = density[0]?.length ?? 0;
  const edgesHz = Array.from({ length: bands + 1 }, (_, i) => bandEdgeHz(firstBand + i));
  return {
    fromMs,
    toMs,
    seconds: blocks,
    mount: { nodeId, sensor, sinceMs },
    edgesHz,
    axes: axes.map((axis, at) => ({
      axis,
      rmsMPerS2: density[at]!.map((value, i) => Math.sqrt(value * (edgesHz[i + 1]! - edgesHz[i]!))),
    })),
  };
}
