import { thinByMaximum } from '../../dsp/spectrum.ts';
import { decadeTicks, linearTicks, tickText } from './scale.ts';

/** A line to mark: where something was expected, or found. */
export interface Mark {
  frequencyHz: number;
  label: string;
  /** Found lines are drawn full, expected ones dashed: never told apart by colour alone. */
  found: boolean;
}

export interface Panel {
  title: string;
  stepHz: number;
  values: Float64Array;
  valueLabel: string;
  /** Highest frequency shown; default all. */
  topHz?: number;
  /** Decades on the value axis: a spectrum spans many, an envelope spectrum does not. */
  logarithmic: boolean;
  marks: Mark[];
}

export interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

const INK = '#1d2733';
const FAINT = '#c9d2dc';
const SOFT = '#8794a3';
const HUE = '#1f6296';
/** Below this share of the highest value a logarithmic axis ends: six decades of power. */
const FLOOR_SHARE = 1e-4;
/** Room for one label, so that neighbours go into rows below each other. */
const LABEL_WIDTH = 6.2;
const LABEL_ROWS = 4;

/** One diagram as SVG: axes with units, the curve thinned by its maxima, marks with their labels. */
export function drawPanel(panel: Panel, box: Box): string {
  const last = panel.values.length - 1;
  const topHz = Math.min(panel.topHz ?? Number.POSITIVE_INFINITY, last * panel.stepHz);
  const shown = panel.values.subarray(0, Math.floor(topHz / panel.stepHz) + 1);
  const highest = shown.reduce((best, value) => Math.max(best, value), 0);
  const top = highest > 0 ? highest * (panel.logarithmic ? 2 : 1.1) : 1;
  const bottom = panel.logarithmic ? top * FLOOR_SHARE : 0;
  const x = (hz: number) => box.x + (hz / topHz) * box.width;
  const y = (value: number) => {
    const share = panel.logarithmic
      ? Math.log(Math.max(value, bottom) / bottom) / Math.log(top / bottom)
      : value / top;
    return box.y + box.height * (1 - share);
  };
  const parts: string[] = [
    `<text x="${box.x}" y="${box.y - 62}" font-size="15" font-weight="600" fill="${INK}">${escapeXml(panel.title)}</text>`,
  ];
  for (const hz of linearTicks(topHz, 10)) {
    parts.push(
      `<line x1="${at(x(hz))}" x2="${at(x(hz))}" y1="${box.y}" y2="${box.y + box.height}" stroke="${FAINT}"/>`,
      `<text x="${at(x(hz))}" y="${box.y + box.height + 18}" text-anchor="middle">${tickText(hz)}</text>`,
    );
  }
  for (const value of panel.logarithmic ? decadeTicks(bottom, top) : linearTicks(top, 5)) {
    parts.push(
      `<line x1="${box.x}" x2="${box.x + box.width}" y1="${at(y(value))}" y2="${at(y(value))}" stroke="${FAINT}"/>`,
      `<text x="${box.x - 8}" y="${at(y(value) + 4)}" text-anchor="end">${tickText(value)}</text>`,
    );
  }
  parts.push(
    `<text x="${box.x + box.width}" y="${box.y + box.height + 36}" text-anchor="end">frequency, Hz</text>`,
    `<text transform="translate(${box.x - 58} ${box.y + box.height / 2}) rotate(-90)" text-anchor="middle">${escapeXml(panel.valueLabel)}</text>`,
  );
  const thinned = thinByMaximum(shown, 2 * Math.ceil(box.width));
  const points = Array.from(thinned.values, (value, k) => {
    // A thinned point stands at the middle of its stretch.
    const hz = Math.min(topHz, (k * thinned.step + (thinned.step - 1) / 2) * panel.stepHz);
    return `${at(x(hz))},${at(y(value))}`;
  });
  parts.push(...drawMarks(panel.marks, topHz, x, box));
  parts.push(`<polyline fill="none" stroke="${HUE}" stroke-width="1.2" points="${points.join(' ')}"/>`);
  return parts.join('\n');
}

function drawMarks(marks: Mark[], topHz: number, x: (hz: number) => number, box: Box): string[] {
  const endOfRow = new Array<number>(LABEL_ROWS).fill(Number.NEGATIVE_INFINITY);
  return [...marks]
    .filter((mark) => mark.frequencyHz > 0 && mark.frequencyHz <= topHz)
    .sort((a, b) => a.frequencyHz - b.frequencyHz)
    .flatMap((mark) => {
      const place = x(mark.frequencyHz);
      const free = endOfRow.findIndex((end) => end < place);
      const style = `stroke="${SOFT}"${mark.found ? '' : ' stroke-dasharray="3 4"'}`;
      const line = `<line x1="${at(place)}" x2="${at(place)}" y1="${box.y}" y2="${box.y + box.height}" ${style}/>`;
      // Crowded marks keep their line and lose the label rather than overprint another.
      if (free < 0) return [line];
      endOfRow[free] = place + mark.label.length * LABEL_WIDTH + 8;
      const height = box.y - 6 - 12 * free;
      return [line, `<text x="${at(place)}" y="${height}" font-size="11">${escapeXml(mark.label)}</text>`];
    });
}

function at(value: number): string {
  return value.toFixed(1);
}

export function escapeXml(text: string): string {
  return (
    text
      .replaceAll('&', '&amp;')
      .replaceAll('<', '&lt;')
      .replaceAll('>', '&gt;')
      .replaceAll('"', '&quot;')
      // Control characters are not allowed in XML at all.
      .replace(/[^\u0020-\uffff]/g, ' ')
  );
}
