import { linearTicks, tickText } from '../../../../collector/index.ts';
import type { ReportMedia } from '../data.ts';
import { html, type Markup } from '../html.ts';
import { at, type Box, picture, upright } from './frame.ts';

const WIDTH = 760;
const BOX: Box = { left: 84, top: 34, width: 660, height: 280 };

/** Level over time and frequency, with the noise marks above it. */
export function spectrogramPicture(shown: NonNullable<ReportMedia['spectrogram']>): Markup {
  const { png, place, fromS, toS, marks, topHz } = shown;
  const x = (s: number) => BOX.left + (BOX.width * (s - fromS)) / (toS - fromS);
  const axis = upright(BOX, { bottom: 0, top: topHz, label: 'frequency, Hz' });
  const step = Math.max(1, linearTicks(toS - fromS, 8)[1] ?? 1);
  const first = step * Math.ceil(fromS / step);
  const ticks = Array.from({ length: Math.floor((toS - first) / step) + 1 }, (_, k) => first + k * step);
  const bottom = BOX.top + BOX.height;
  const bars = marks.map((mark) => {
    const [from, to] = [x(Math.max(fromS, mark.fromS)), x(Math.min(toS, mark.toS))];
    return html`<rect class="mark" x="${at(from)}" y="${BOX.top - 12}" width="${at(Math.max(3, to - from))}" height="8"/>`;
  });
  return picture(
    WIDTH,
    bottom + 46,
    `Spectrogram of the ${place}, second ${fromS.toFixed(0)} to ${toS.toFixed(0)} of the run, 0 to ${Math.round(topHz)} Hz, with ${marks.length} noise ${marks.length === 1 ? 'mark' : 'marks'}`,
    html`${axis.markup}
<image x="${BOX.left}" y="${BOX.top}" width="${BOX.width}" height="${BOX.height}" preserveAspectRatio="none" href="data:image/png;base64,${png.toString('base64')}"/>
<rect class="edge" x="${BOX.left}" y="${BOX.top}" width="${BOX.width}" height="${BOX.height}"/>
${bars}${marks.length === 0 ? null : html`<text x="${BOX.left}" y="${BOX.top - 18}">marked as noise</text>`}
${ticks.map((s) => html`<text x="${at(x(s))}" y="${bottom + 18}" text-anchor="middle">${tickText(s)}</text>`)}
<text x="${BOX.left + BOX.width}" y="${bottom + 38}" text-anchor="end">seconds since the run began</text>`,
  );
}
