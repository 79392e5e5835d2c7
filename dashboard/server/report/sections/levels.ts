import type { LocationTrend } from '../../../contract/weeks.ts';
import { verdictText } from '../../../contract/words/findings.ts';
import { ZONE_LIMITS, ZONE_MEANING } from '../../../contract/words/zones.ts';
import { standingOfTrend } from '../../owner/how-much.ts';
import type { ReportData, ReportPlace } from '../data.ts';
import { html, type Markup } from '../html.ts';
import { trendPicture } from '../svg/trend.ts';
import { velocityText } from '../words.ts';

const ZONES = ['A', 'B', 'C', 'D'] as const;

/** How strong, against which zone, and whether it grows. */
export function levels(data: ReportData): Markup | null {
  const { places, run, asset } = data;
  const zonesApply = asset.kind === 'machine' || (run !== null && run.kind !== 'road');
  if (places.length === 0) return null;
  const band = places.find(({ level }) => level !== null)?.level?.bandHz;
  return html`<section><h2>How strong, and does it grow?</h2>
<div class="wide" tabindex="0" role="region" aria-label="Levels by location"><table>
<thead><tr><th scope="col">Location</th><th scope="col">Velocity RMS</th>${zonesApply ? html`<th scope="col">Zone</th>` : null}<th scope="col">Over weeks</th><th scope="col">Finding</th></tr></thead>
<tbody>${places.map((place) => row(place, data, zonesApply))}</tbody></table></div>
<p class="hint">${band === undefined ? null : `Velocity from ${Math.round(band[0])} to ${Math.round(band[1])} Hz, middle of the sound seconds, highest axis, with its uncertainty (about 95 %). `}${zonesApply ? `Zones after ISO 10816-1 for class ${asset.machineClass} (superseded by ISO 20816; boundaries from secondary texts): ${ZONES.map((zone) => `${zone} ${ZONE_MEANING[zone]}`).join('; ')}.` : 'No zone letters: they are not made for road runs.'} ${asset.kind === 'vehicle' && zonesApply ? ZONE_LIMITS : null}</p>
${trendOf(data)}
</section>`;
}

function row(place: ReportPlace, { mainId }: ReportData, zonesApply: boolean): Markup {
  const { locationId, component, name, level, look, trend } = place;
  const title = `${component}: ${name}`;
  return html`<tr><th scope="row">${locationId === mainId ? html`<strong>${title}</strong>` : title}</th>
<td class="figure">${level === null ? 'not kept' : velocityText(level)}</td>${zonesApply ? html`<td>${level?.zone ?? '–'}</td>` : null}
<td>${trend === null ? 'not followed' : overWeeks(trend)}</td>
<td>${look === null ? 'not looked for' : verdictText(look.record.verdict, look.record.bearing)}</td></tr>`;
}

/** The sentences below the table say it at length. */
function overWeeks(trend: LocationTrend): string {
  const { answer, change } = standingOfTrend(trend);
  if (change === null) return 'cannot be said yet';
  return `${WORDS[answer]}: ${change}`;
}

const WORDS = { worse: 'worse', steady: 'steady', better: 'less', 'not-known': 'not known' };

function trendOf({ places, mainId, run, asset }: ReportData): Markup | null {
  const shown = places.find(({ locationId }) => locationId === mainId) ?? places[0]!;
  const { trend, component, name } = shown;
  if (trend === null || trend.points.length < 2) return null;
  const zonesOf = asset.kind === 'machine' && trend.basis === 'level' ? asset.machineClass : null;
  return html`<h3>Over weeks: ${component}, ${name}</h3>
${trend.sentences.map((text) => html`<p>${text}</p>`)}
<figure>${trendPicture({ trend, zonesOf, runId: run?.id ?? null })}<figcaption>${trend.basis === 'ratio' ? 'Each run against the baseline of its own condition (speed, load, gear)' : 'Middle of each day'}${run === null ? '' : '; the diamond is the run of this report'}. Shaded: scatter of the baseline. Dashed: where an alert is raised. Long dashes: slope.</figcaption></figure>`;
}
