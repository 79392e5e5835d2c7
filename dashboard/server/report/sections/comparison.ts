import type { BandRow, CompareResult } from '../../../contract/inquiries.ts';
import type { ReportData } from '../data.ts';
import { html, type Markup } from '../html.ts';
import { bandsPicture } from '../svg/bands.ts';
import { sentence } from '../words.ts';

/** More at once is more than anybody reads. */
const SHOWN_BANDS = 8;

/** Which location makes the noise, and what that rests on. */
export function comparison({ comparison: result, comparisonMissing }: ReportData): Markup | null {
  if (result === null) {
    if (comparisonMissing === null) return null;
    return html`<section><h2>Which location makes the noise?</h2><p>Not compared. ${sentence(comparisonMissing)}</p></section>`;
  }
  const { verdict, bands, windows, quietWindows, cautions, toleranceDb } = result.comparison;
  const shown = loudestBands(bands);
  const against = quietWindows.length > 0 ? ` against ${quietWindows.length} quiet ones` : '';
  return html`<section><h2>Which location makes the noise?</h2>
<p class="verdict">${verdict.sentence}</p>
${result.marks === null ? null : html`<p>${result.marks.sentence}</p>`}
${shown.length === 0 ? null : bandTable(shown, result)}
<p class="hint">${windows.length} seconds compared${against}, one second a window. Levels are acceleration in dB re 1 µm/s² with their uncertainty (about 95 %); it holds chance and ${toleranceDb.toFixed(1)} dB for the sensors. “≤”: the noise does not stand out there, and the level is the most it can be.</p>
${[...result.notes, ...cautions].map((text) => html`<p class="hint">${sentence(text)}</p>`)}
${result.missing.map(({ name, reason }) => html`<p class="hint">Not compared: ${name} (${reason}).</p>`)}
</section>`;
}

function bandTable(bands: readonly BandRow[], result: CompareResult): Markup {
  const name = (id: string) =>
    result.locations.find(({ locationId }) => String(locationId) === id)?.name ?? id;
  const ids = bands[0]!.levels.map(({ locationId }) => locationId);
  const windows = result.comparison.windows.length;
  return html`<figure>${bandsPicture(bands, name)}<figcaption>The loudest bands of the noise. Upright lines: uncertainty.</figcaption></figure>
<div class="wide" tabindex="0" role="region" aria-label="Levels by band and location"><table>
<thead><tr><th scope="col">Band, Hz</th>${ids.map((id) => html`<th scope="col">${name(id)}, dB</th>`)}<th scope="col">Lead, dB</th><th scope="col">Seconds led</th></tr></thead>
<tbody>${bands.map(
    (band) =>
      html`<tr><th scope="row">${band.nominalHz}</th>${ids.map((id) => {
        const { levelDb, uncertaintyDb, atMost } = band.levels.find(({ locationId }) => locationId === id)!;
        const text = `${atMost ? '≤ ' : ''}${levelDb.toFixed(1)} ± ${uncertaintyDb.toFixed(1)}`;
        return html`<td class="figure">${id === band.leaderId ? html`<strong>${text}</strong>` : text}</td>`;
      })}<td class="figure">${band.leadDb.toFixed(1)} ± ${band.uncertaintyDb.toFixed(1)}</td><td class="figure">${band.windowsLed} of ${windows}</td></tr>`,
  )}</tbody></table></div>`;
}

/** Those in which the noise stands out; in the order of frequency. */
function loudestBands(bands: readonly BandRow[]): BandRow[] {
  const loudest = (band: BandRow) => Math.max(...band.levels.map(({ levelDb }) => levelDb));
  return bands
    .filter(({ standsOut }) => standsOut)
    .toSorted((a, b) => loudest(b) - loudest(a))
    .slice(0, SHOWN_BANDS)
    .sort((a, b) => a.nominalHz - b.nominalHz);
}
