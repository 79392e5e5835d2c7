import type { AxisName } from '../../firmware-protocol/index.ts';
import { CaptureError, type CaptureStretch, type Span } from '../capture/capture.ts';
import { cutCapture } from '../capture/cut-capture.ts';
import { endMs } from '../capture/stretches.ts';
import type { SensorKey } from '../store/reading-store.ts';
import { openWav } from '../wav/open-wav.ts';
import { flatTops } from './flat-tops.ts';

/** A location of an asset, as an inquiry knows it. */
export interface PlaceName {
  locationId: number;
  /** As people say it, in lower case: "pinion bearing of the rear axle". */
  name: string;
}

/** Where the samples of some locations come from. */
export type Source =
  | {
      kind: 'journal';
      journalDir: string;
      /** Which sensor stood at the location when: event time, half-open. */
      places: (PlaceName & { stays: (SensorKey & Span)[] })[];
      /** How long after a span its samples may have arrived. */
      lateMs?: number;
    }
  | { kind: 'files'; files: RecordedFile[] };

/** A WAV file whose digital full scale is `fullScaleMPerS2`, and what was measured at which places. */
export interface RecordedFile {
  path: string;
  startMs: number;
  /** Null: not known before it is opened. */
  frames: number | null;
  /** True rate, where it is known better than the file's whole number. */
  sampleRateHz: number;
  fullScaleMPerS2: number;
  /** Largest expected error of `startMs` against other files; null: not known. */
  timeUncertaintyMs: number | null;
  clipped: Span[];
  places: (PlaceName & { board: string; channels: { channel: number; axis: AxisName }[] })[];
}

/** The samples of one location. */
export interface Place extends PlaceName {
  stretches: (CaptureStretch & { board: string })[];
  gaps: Span[];
}

/** Bound on the samples of one inquiry. */
const MAX_BYTES = 192e6;

/** The same source with some of its places. */
export function onlyPlaces(source: Source, locationIds: readonly number[]): Source {
  const isWanted = ({ locationId }: PlaceName) => locationIds.includes(locationId);
  if (source.kind === 'journal') return { ...source, places: source.places.filter(isWanted) };
  const files = source.files.map((file) => ({ ...file, places: file.places.filter(isWanted) }));
  return { ...source, files: files.filter(({ places }) => places.length > 0) };
}

export function placeIds(source: Source): number[] {
  const places = source.kind === 'journal' ? source.places : source.files.flatMap((file) => file.places);
  return [...new Set(places.map(({ locationId }) => locationId))];
}

/** The samples of the places within the spans. @throws CaptureError, WavError, BrokerError */
export async function cutPlaces(source: Source, spans: readonly Span[], leadMs?: number): Promise<Place[]> {
  return source.kind === 'journal' ? fromJournal(source, spans, leadMs) : fromFiles(source.files, spans);
}

async function fromJournal(
  { journalDir, places, lateMs }: Extract<Source, { kind: 'journal' }>,
  spans: readonly Span[],
  leadMs?: number,
): Promise<Place[]> {
  const keys = new Map<string, SensorKey>();
  for (const { stays } of places) {
    for (const { nodeId, sensor } of stays) keys.set(`${nodeId}/${sensor}`, { nodeId, sensor });
  }
  const capture = await cutCapture(journalDir, [...keys.values()], spans, {
    maxBytes: MAX_BYTES,
    ...(leadMs === undefined ? {} : { leadMs }),
    ...(lateMs === undefined ? {} : { lateMs }),
  });
  const bySensor = new Map(
    capture.sensors.map((sensor) => [`${sensor.nodeId}/${sensor.sensor}`, sensor.stretches]),
  );
  return places.map(({ locationId, name, stays }) => {
    const stretches = stays
      .flatMap((stay) =>
        (bySensor.get(`${stay.nodeId}/${stay.sensor}`) ?? []).flatMap((stretch) => {
          const part = within(stretch, stay);
          return part === null ? [] : [{ ...part, board: stay.nodeId }];
        }),
      )
      .sort((a, b) => a.startMs - b.startMs);
    return { locationId, name, stretches, gaps: gapsOf(spans, stretches) };
  });
}

/** @throws RangeError when an axis is asked for that was not recorded at the place */
export function needAxis({ stretches }: Place, axis: AxisName | undefined): void {
  if (axis === undefined || stretches.some(({ axes }) => axes.includes(axis))) return;
  const recorded = [...new Set(stretches.flatMap(({ axes }) => axes))].join(', ');
  throw new RangeError(`axis ${axis} was not recorded here; recorded: ${recorded}`);
}

/** The part of a stretch inside a span; views, no copies. */
export function within(stretch: CaptureStretch, { fromMs, toMs }: Span): CaptureStretch | null {
  const perMs = stretch.sampleRateHz / 1000;
  const from = Math.max(0, Math.ceil((fromMs - stretch.startMs) * perMs - 1e-6));
  const to = Math.min(stretch.samples[0]!.length, Math.ceil((toMs - stretch.startMs) * perMs - 1e-6));
  if (to - from < 2) return null;
  if (from === 0 && to === stretch.samples[0]!.length) return stretch;
  return {
    ...stretch,
    startMs: stretch.startMs + from / perMs,
    samples: stretch.samples.map((axis) => axis.subarray(from, to)),
  };
}

function gapsOf(spans: readonly Span[], stretches: readonly CaptureStretch[]): Span[] {
  const gaps: Span[] = [];
  for (const { fromMs, toMs } of spans) {
    let at = fromMs;
    for (const stretch of stretches) {
      const end = endMs(stretch);
      if (end <= at || stretch.startMs >= toMs) continue;
      if (stretch.startMs - at > LEAST_GAP_MS) gaps.push({ fromMs: at, toMs: stretch.startMs });
      at = end;
    }
    if (toMs - at > LEAST_GAP_MS) gaps.push({ fromMs: at, toMs });
  }
  return gaps;
}

const LEAST_GAP_MS = 0.7;
const FRAMES_PER_CHUNK = 65_536;

async function fromFiles(files: readonly RecordedFile[], spans: readonly Span[]): Promise<Place[]> {
  const places = new Map<number, Place>();
  let bytes = 0;
  for (const file of files) {
    const reached =
      file.frames === null || rangesOf(file, file.frames, spans).some(({ from, to }) => from < to);
    const found = reached
      ? await fromFile(file, spans)
      : file.places.map((place) => ({ ...place, stretches: [] }));
    for (const { locationId, name, stretches } of found) {
      const place = places.get(locationId) ?? { locationId, name, stretches: [], gaps: [] };
      places.set(locationId, place);
      place.stretches.push(...stretches);
      for (const { samples } of stretches) for (const axis of samples) bytes += axis.byteLength;
    }
    if (bytes > MAX_BYTES)
      throw new CaptureError(
        'CAPTURE_TOO_LARGE',
        `the recordings of this span hold more than ${MAX_BYTES / 1e6} MB`,
        'Ask for a shorter span, or for one location.',
      );
  }
  for (const place of places.values()) {
    place.stretches.sort((a, b) => a.startMs - b.startMs);
    place.gaps = gapsOf(spans, place.stretches);
  }
  return [...places.values()];
}

/** Frames of a file that lie in each span, half-open. */
function rangesOf(
  { startMs, sampleRateHz }: RecordedFile,
  frames: number,
  spans: readonly Span[],
): { from: number; to: number }[] {
  const perMs = sampleRateHz / 1000;
  return spans.map(({ fromMs, toMs }) => ({
    from: Math.max(0, Math.ceil((fromMs - startMs) * perMs - 1e-6)),
    to: Math.min(frames, Math.ceil((toMs - startMs) * perMs - 1e-6)),
  }));
}

async function fromFile(
  file: RecordedFile,
  spans: readonly Span[],
): Promise<(PlaceName & Pick<Place, 'stretches'>)[]> {
  const { path, startMs, sampleRateHz, fullScaleMPerS2, timeUncertaintyMs, clipped, places } = file;
  const wav = await openWav(path, { allowTruncated: true });
  try {
    const perMs = sampleRateHz / 1000;
    const ranges = rangesOf(file, wav.frameCount, spans);
    const held = ranges.map(({ from, to }) =>
      places.map(({ channels }) => channels.map(() => new Float32Array(Math.max(0, to - from)))),
    );
    let at = 0;
    for await (const chunk of wav.chunks(FRAMES_PER_CHUNK)) {
      const frames = chunk[0]!.length;
      ranges.forEach(({ from, to }, r) => {
        const [first, last] = [Math.max(from, at), Math.min(to, at + frames)];
        if (last <= first) return;
        places.forEach(({ channels }, p) => {
          channels.forEach(({ channel }, c) => {
            const part = chunk[channel]!.subarray(first - at, last - at);
            held[r]![p]![c]!.set(
              part.map((value) => value * 32768),
              first - from,
            );
          });
        });
      });
      at += frames;
    }
    return places.map(({ locationId, name, board, channels }, p) => {
      const stretches = ranges.flatMap(({ from, to }, r) =>
        to - from < 2
          ? []
          : [
              {
                startMs: startMs + from / perMs,
                sampleRateHz,
                timeUncertaintyMs,
                fullScaleMPerS2,
                axes: channels.map(({ axis }) => axis),
                samples: held[r]![p]!,
                clipped: [
                  ...clipped.filter((one) => overlaps(one, startMs + from / perMs, startMs + to / perMs)),
                  // Floats have no end of their range.
                  ...(wav.bitsPerSample < 32
                    ? flatTops(held[r]![p]!, startMs + from / perMs, sampleRateHz)
                    : []),
                ],
                board,
              },
            ],
      );
      return { locationId, name, stretches };
    });
  } finally {
    await wav.close();
  }
}

const overlaps = (span: Span, fromMs: number, toMs: number) => span.fromMs < toMs && span.toMs > fromMs;
