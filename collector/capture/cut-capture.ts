import { type JournalReader, openJournalReader } from '../../broker/journal/index.ts';
import type { SensorKey } from '../store/reading-store.ts';
import type { Capture, Span } from './capture.ts';
import { type Cutter, createCutter } from './cutter.ts';

export interface CutOptions {
  /**
   * How far before the span reading begins, so that clocks and rates have settled when it starts (default 120 s). By
   * time of arrival.
   */
  leadMs?: number;
  /** How long after the span's end samples may have arrived (default 60 s); more for nodes that store and forward. */
  lateMs?: number;
  /** Bound on the samples held (default 256 MB). */
  maxBytes?: number;
  signal?: AbortSignal;
}

const DEFAULT_LEAD_MS = 120_000;
const DEFAULT_LATE_MS = 60_000;
const DEFAULT_MAX_BYTES = 256e6;
const READ_BYTES = 1024 ** 2;
/** Nothing between two spans is read when it is longer than this and what each of them needs around it. */
const WORTH_SKIPPING_MS = 300_000;

/**
 * Cuts the samples of some sensors out of the journal: contiguous per sensor, in event time, with the true rate, gaps
 * stated. Reads only what is on the disk now.
 *
 * @throws CaptureError `CAPTURE_TOO_LARGE`
 * @throws BrokerError when the journal's folder cannot be read
 */
export async function cutCapture(
  journalDir: string,
  sensors: readonly SensorKey[],
  spans: readonly Span[],
  options: CutOptions = {},
): Promise<Capture> {
  const { leadMs = DEFAULT_LEAD_MS, lateMs = DEFAULT_LATE_MS, maxBytes = DEFAULT_MAX_BYTES } = options;
  const cutter = createCutter(sensors, spans, maxBytes);
  const reader = await openJournalReader(journalDir);
  let lostBytes = 0;
  try {
    const stretches = readingSpans(spans, leadMs, lateMs);
    for (const span of stretches) lostBytes += await feed(reader, cutter, span, options.signal);
  } finally {
    await reader.close();
  }
  return { ...cutter.capture(), lostBytes };
}

/** Spans of arrival time to read, joined where they come close. */
function readingSpans(spans: readonly Span[], leadMs: number, lateMs: number): Span[] {
  const joined: Span[] = [];
  const wide = spans.map(({ fromMs, toMs }) => ({ fromMs: fromMs - leadMs, toMs: toMs + lateMs }));
  for (const span of wide.sort((a, b) => a.fromMs - b.fromMs)) {
    const last = joined.at(-1);
    if (last !== undefined && span.fromMs - last.toMs < WORTH_SKIPPING_MS)
      last.toMs = Math.max(last.toMs, span.toMs);
    else joined.push({ ...span });
  }
  return joined;
}

async function feed(
  reader: JournalReader,
  cutter: Cutter,
  { fromMs, toMs }: Span,
  signal?: AbortSignal,
): Promise<number> {
  let lostBytes = 0;
  let position = await reader.positionBefore(fromMs * 1000);
  for (;;) {
    signal?.throwIfAborted();
    const read = await reader.read(position, READ_BYTES);
    lostBytes += read.damagedBytes + read.skippedBytes;
    for (const record of read.records) {
      const atMs = record.arrivedAtUs / 1000;
      if (atMs >= fromMs && atMs <= toMs) cutter.accept(record);
    }
    const last = read.records.at(-1);
    if (last === undefined || last.arrivedAtUs / 1000 > toMs) return lostBytes;
    position = read.nextPosition;
  }
}
