import type { BandRow } from '../../../contract/inquiries.ts';
import { html, type Markup } from '../html.ts';
import { at, type Box, picture, shapeOf, upright } from './frame.ts';

const WIDTH = 760;
const BOX: Box = { left: 84, top: 16, width: 660, height: 250 };
const ROW = 20;
/** Below the highest level of the picture nothing that decides is lost. */
const LEAST_RANGE_DB = 20;

/** Levels of every location in each band of the noise, with their uncertainty as upright lines. */
export function bandsPicture(bands: readonly BandRow[], nameOf: (id: string) => string): Markup {
  const ids = bands[0]!.levels.map(({ locationId }) => locationId);
  const all = bands.flatMap(({ levels }) => levels);
  const top = 5 * Math.ceil(Math.max(...all.map((one) => one.levelDb + one.uncertaintyDb)) / 5);
  const lowest = Math.min(...all.map((one) => one.levelDb - one.uncertaintyDb));
  const bottom = Math.min(top - LEAST_RANGE_DB, 5 * Math.floor(Math.max(lowest, top - 60) / 5));
  const axis = upright(BOX, { bottom, top, label: 'level, dB re 1 µm/s²' });
  const step = BOX.width / bands.length;
  const x = (band: number, place: number) =>
    BOX.left + step * (band + 0.5) + Math.min(16, step / (ids.length + 1)) * (place - (ids.length - 1) / 2);
  const dots = bands.flatMap((band, b) =>
    band.levels.map(({ locationId, levelDb, uncertaintyDb }) => {
      const place = ids.indexOf(locationId);
      const clamp = (db: number) => axis.y(Math.max(bottom, Math.min(top, db)));
      return html`<line class="whisker" x1="${at(x(b, place))}" x2="${at(x(b, place))}" y1="${at(clamp(levelDb - uncertaintyDb))}" y2="${at(clamp(levelDb + uncertaintyDb))}"/>${shapeOf(place)(x(b, place), clamp(levelDb))}`;
    }),
  );
  const names = bands.map(
    ({ nominalHz }, b) =>
      html`<text x="${at(BOX.left + step * (b + 0.5))}" y="${BOX.top + BOX.height + 18}" text-anchor="middle">${nominalHz}</text>`,
  );
  const below = BOX.top + BOX.height + 36;
  const legend = ids.map(
    (id, place) =>
      html`${shapeOf(place)(BOX.left + 6, below + 24 + ROW * place)}<text x="${BOX.left + 18}" y="${below + 28 + ROW * place}">${nameOf(id)}</text>`,
  );
  return picture(
    WIDTH,
    below + 30 + ROW * ids.length,
    `Levels of ${ids.length} locations in ${bands.length} bands; the table below holds the numbers`,
    html`${axis.markup}${names}
<text x="${BOX.left + BOX.width}" y="${below}" text-anchor="end">third octave, Hz</text>
${dots}${legend}`,
  );
}
