import { CAUTIONS } from '../../../contract/words/cautions.ts';
import { significant } from '../../../contract/words/figures.ts';
import type { ReportData, ReportPlace } from '../data.ts';
import { html, type Markup } from '../html.ts';
import { bytesText, dayText } from '../words.ts';

/** Which sensor sat where, and when it was last checked. */
export function sensors(data: ReportData): Markup | null {
  const rows = data.places.flatMap((place) => place.sensors.map((sensor) => ({ place, sensor })));
  if (rows.length === 0) return null;
  const { withNames } = data;
  return html`<section><h2>Sensors</h2>
<div class="wide" tabindex="0" role="region" aria-label="Sensors"><table>
<thead><tr><th scope="col">Position</th><th scope="col">Sensor</th><th scope="col">Tolerance</th><th scope="col">Last check</th><th scope="col">Sits there since</th></tr></thead>
<tbody>${rows.map(
    ({ place, sensor }) => html`<tr><th scope="row">${place.component}: ${place.name}</th>
<td>node ${sensor.nodeId}, sensor ${sensor.sensor}${sensor.part === '' ? null : `, ${sensor.part}`}${sensor.serial === '' ? null : `, serial ${sensor.serial}`}</td>
<td>${sensor.tolerancePct === null ? 'not known; the usual one of its kind is taken' : `${significant(sensor.tolerancePct, 2)} %`}</td>
<td>${sensor.checkedMs === null ? 'never' : dayText(sensor.checkedMs, false)}</td>
<td>${dayText(sensor.mountedMs, withNames)}${sensor.turnedDeg === null ? null : `, when it had turned by ${sensor.turnedDeg.toFixed(0)}°`}</td></tr>`,
  )}</tbody></table></div>
<p class="hint">A gravity check turns the sensor through six positions: it shows how far the scale of each axis may be off at low frequencies, and nothing of its behaviour at high ones. A check on a reference shaker compares sensor and clamp together with a known level at one frequency.</p></section>`;
}

/** In plain words, for who must judge the result without the station. */
export function method({ run, comparison }: ReportData): Markup {
  return html`<section><h2>How it was measured, and how sure it is</h2><ul>
<li>Small acceleration sensors were clamped to the locations named. Each sample carries its time, so that the same seconds are compared everywhere.</li>
<li>Velocity RMS says how strongly a surface moves from 10 to 1000 Hz. Its ± holds chance, the sensor, the clamp and the filter, for about 95 of 100 cases (k = 2).</li>
${comparison === null ? null : html`<li>The comparison takes the power of each location in third octaves, in the seconds with the noise over those without it. A location is named only if its lead holds over the bands of the noise against chance, sensor tolerance and what paths through the structure do by themselves. The loudest place is not always the source; if nothing holds, it says “not clear”.</li>`}
<li>A part is named only if its line and at least one multiple stand out of the spectrum of the strikes (envelope). The chance given is that of finding as much in noise, over everything searched; it is never stated smaller than simulations of healthy machines carry.</li>
<li>Trends compare runs of the same condition and the same mount with their own baseline. An alert needs more than the own scatter explains.</li>
${run?.kind === 'road' ? html`<li>On the road, speed, load and surface change: small differences between runs say nothing.</li>` : null}
<li>These sensors are not calibrated instruments, a clamp has a resonance of its own, and parts can fail without vibrating first. A result here tells where to look; it does not replace looking.</li>
</ul></section>`;
}

export function cautions(): Markup {
  return html`<section class="cautions"><h2>Cautions</h2>
<p>Local rules, the vehicle maker's instructions and licensed practice come first.</p>
${CAUTIONS.map(({ heading, points }) => html`<h3>${heading}</h3><ul>${points.map((point) => html`<li>${point}</li>`)}</ul>`)}</section>`;
}

/** What proves the raw samples, what made the report, and what it leaves out. */
export function evidence(data: ReportData): Markup {
  const { places, run, version, madeMs, withNames } = data;
  return html`<section><h2>Evidence</h2>
${run === null ? null : digests(places, run.id)}
<p>Made on ${dayText(madeMs, withNames)} by Clampline ${version}. This file needs no network and holds no program.</p>
<p class="hint">${
    withNames
      ? 'With names, notes and exact times: pass it on only to who may know them.'
      : 'Left out: names of the vehicle, the site and people, notes, and times of day. The complaint and the checks stand as they were written; names of locations too.'
  }</p></section>`;
}

function digests(places: readonly ReportPlace[], runId: number): Markup | null {
  const known = places.filter(({ digest }) => digest !== null);
  if (known.length === 0) return null;
  return html`<p>SHA-256 of the raw samples of each location, as the WAV file that the station gives out:</p>
<div class="wide" tabindex="0" role="region" aria-label="Digests"><table><thead><tr><th scope="col">Location</th><th scope="col">SHA-256</th><th scope="col">Size</th></tr></thead>
<tbody>${known.map(({ component, name, digest }) =>
    'missing' in digest!
      ? html`<tr><th scope="row">${component}: ${name}</th><td colspan="2">none: ${digest.missing}</td></tr>`
      : html`<tr><th scope="row">${component}: ${name}</th><td class="hash">${digest!.sha256}</td><td>${bytesText(digest!.bytes)}, ${significant(digest!.sampleRateHz, 5)} samples/s</td></tr>`,
  )}</tbody></table></div>
<p class="hint">To check one: at the station, open run ${runId}, choose the location under Listen, save the raw samples (address: ${places.map(({ locationId }) => `/api/runs/${runId}/recording.wav?locationId=${locationId}`).join(' or ')}) and compare the file's SHA-256, for example with sha256sum. It stays the same as long as the station keeps the samples.</p>`;
}
