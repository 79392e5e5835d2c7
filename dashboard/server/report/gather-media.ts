import { bearingFromText, inquiry } from '../../../collector/index.ts';
import { Refusal } from '../errors.ts';
import type { Analyst } from '../runs/analyst.ts';
import type { Clip, ReportMedia, ReportPlace, Span } from './data.ts';
import { matchLoudness } from './match-loudness.ts';
import { around, type Moments } from './moments.ts';
import { palettePng } from './png.ts';

/** A place whose samples are shown or played. */
export interface MediaPlace {
  locationId: number;
  label: string;
}

export interface MediaQuestion {
  /** Of all places of the run. */
  source: inquiry.Source;
  run: Span;
  moments: Moments;
  marks: readonly { atMs: number; endMs: number | null }[];
  /** Shown, and played with and without the noise. */
  main: MediaPlace & { look: ReportPlace['look']; svg: string | null };
  /** Played with the noise, to be compared. */
  others: readonly MediaPlace[];
}

const MARGIN_MS = 6_000;
const LEAST_PICTURE_MS = 3_000;
/** Levels this far below the highest are drawn like the paper. */
const SHOWN_DB = 60;
const PAPER = [255, 255, 255] as const;
const INK = [12, 51, 87] as const;

/** Sounds and pictures from the raw samples. What cannot be made is said in `notes`, and nothing else is lost. */
export async function gatherMedia(analyst: Analyst, question: MediaQuestion): Promise<ReportMedia> {
  const notes: string[] = [];
  const attempt = async <Answer>(what: string, work: () => Promise<Answer>): Promise<Answer | null> => {
    try {
      return await work();
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      notes.push(`${what}: ${error.message}`);
      return null;
    }
  };
  const { moments, main, others, source } = question;
  const what = moments.marked ? ('noise' as const) : ('whole' as const);
  const asked = [
    { places: [main, ...others], what, span: moments.noise },
    ...(moments.quiet === null ? [] : [{ places: [main], what: 'quiet' as const, span: moments.quiet }]),
  ];
  const clips: Clip[] = [];
  for (const { places, span, ...kind } of asked) {
    const ids = places.map(({ locationId }) => locationId);
    const found = await attempt('Sound', () =>
      analyst.ask('clips', { source: inquiry.onlyPlaces(source, ids), span }),
    );
    for (const { locationId, label } of places) {
      const one = found?.find((answer) => answer.locationId === locationId);
      if (one === undefined) continue;
      if ('missing' in one) {
        notes.push(`Sound of the ${label}: ${one.missing}`);
        continue;
      }
      const { axis, fullScaleMPerS2, rmsMPerS2, recordedToHz, wav } = one.answer;
      clips.push({
        place: label,
        ...kind,
        fromS: (span.fromMs - question.run.fromMs) / 1000,
        seconds: (span.toMs - span.fromMs) / 1000,
        axis,
        rmsMPerS2: fullScaleMPerS2 > 0 ? rmsMPerS2 : null,
        recordedToHz,
        wav: Buffer.from(wav),
      });
    }
  }
  // With and without the noise at the main place stand side by side.
  clips.sort((a, b) => Number(b.place === main.label) - Number(a.place === main.label));
  const matched = matchLoudness(clips.map(({ wav }) => wav));
  const spectrogram = await attempt('Spectrogram', () => spectrogramOf(analyst, question));
  const lines = await attempt('Spectrum', () => linesOf(analyst, question));
  return { notes, clips: clips.map((clip, k) => ({ ...clip, wav: matched[k]! })), spectrogram, lines };
}

async function spectrogramOf(
  analyst: Analyst,
  { source, run, moments, marks, main }: MediaQuestion,
): Promise<ReportMedia['spectrogram']> {
  const span = around(moments.noise, run, MARGIN_MS);
  if (span.toMs - span.fromMs < LEAST_PICTURE_MS)
    span.toMs = Math.min(run.toMs, span.fromMs + LEAST_PICTURE_MS);
  const picture = await analyst.ask('picture', {
    source: inquiry.onlyPlaces(source, [main.locationId]),
    span,
  });
  const { columns, rows, stepDb, lowDb, stepHz, levels } = picture;
  const highest = levels.reduce((most, byte) => Math.max(most, byte), 0);
  const cells = new Uint8Array(columns * rows);
  for (let column = 0; column < columns; column++) {
    // Row 0 is the lowest frequency and is drawn at the bottom.
    for (let row = 0; row < rows; row++)
      cells[(rows - 1 - row) * columns + column] = levels[column * rows + row]!;
  }
  const palette = Array.from({ length: 256 }, (_, byte) => {
    const share = byte === 0 ? 0 : Math.max(0, Math.min(1, 1 - ((highest - byte) * stepDb) / SHOWN_DB));
    return PAPER.map((from, c) => Math.round(from + share * (INK[c]! - from))) as [number, number, number];
  });
  const inSeconds = (atMs: number) => (atMs - run.fromMs) / 1000;
  const highDb = lowDb + highest * stepDb;
  return {
    png: palettePng(columns, rows, cells, palette),
    place: main.label,
    fromS: inSeconds(span.fromMs),
    toS: inSeconds(span.toMs),
    marks: marks
      .filter(({ atMs, endMs }) => atMs < span.toMs && (endMs ?? atMs) >= span.fromMs)
      .map(({ atMs, endMs }) => ({ fromS: inSeconds(atMs), toS: inSeconds(endMs ?? atMs) })),
    lowDb: highDb - SHOWN_DB,
    highDb,
    topHz: rows * stepHz,
  };
}

async function linesOf(
  analyst: Analyst,
  { source, moments, main }: MediaQuestion,
): Promise<ReportMedia['lines']> {
  const { look, label, locationId } = main;
  const record = look?.inRun === true ? look.record : null;
  if (main.svg !== null && record !== null) {
    const { axis, durationS, speedRpm } = record;
    return { svg: main.svg, place: label, axis, seconds: durationS, expected: speedRpm !== null };
  }
  // The stretch that was looked at shows the lines that were found; else the seconds that are played.
  const span =
    record === null
      ? moments.noise
      : { fromMs: record.startMs, toMs: record.startMs + 1000 * record.durationS };
  const shaftHz = record?.speedRpm == null ? undefined : record.speedRpm / 60;
  const bearing =
    record?.bearing == null || shaftHz === undefined ? undefined : bearingFromText(record.bearing);
  const picture = await analyst.ask('lines', {
    source: inquiry.onlyPlaces(source, [locationId]),
    span,
    title: label.charAt(0).toUpperCase() + label.slice(1),
    ...(record === null
      ? {}
      : { axis: record.axis, findings: record.findings as inquiry.Question<'lines'>['findings'] & {} }),
    ...(shaftHz === undefined ? {} : { shaftHz }),
    ...(bearing === undefined ? {} : { bearing }),
  });
  const { svg, axis, seconds } = picture;
  return { svg, place: label, axis, seconds, expected: shaftHz !== undefined };
}
