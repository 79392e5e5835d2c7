import {
  conditionsText,
  findingSentence,
  isPart,
  rivalText,
  verdictText,
} from '../../../contract/words/findings.ts';
import type { ReportData, ReportPlace } from '../data.ts';
import { html, type Markup } from '../html.ts';
import { dayText, sentence } from '../words.ts';

/** Which part makes which line, with its chance and its rivals; and the picture it was read from. */
export function findings(data: ReportData): Markup | null {
  const { places, mainId, media } = data;
  const telling = places
    .filter(({ look }) => look !== null)
    .filter(({ locationId, look }) => locationId === mainId || isPart(look!.record.verdict));
  const main = telling.toSorted((a, b) => Number(b.locationId === mainId) - Number(a.locationId === mainId));
  const lines = media?.lines ?? null;
  if (main.length === 0 && lines === null) return null;
  return html`<section><h2>Which part?</h2>
${main.length === 0 ? html`<p class="none">Nobody has looked for the lines of bearings and gears at the location above.</p>` : main.map((place) => oneLook(place, data))}
${
  lines === null
    ? null
    : html`<figure><div class="wide" tabindex="0" role="region" aria-label="Spectra"><img class="pan" alt="Spectrum and envelope spectrum of the ${lines.place}" src="data:image/svg+xml;base64,${Buffer.from(lines.svg).toString('base64')}" width="1000" height="760"></div>
<figcaption>${lines.seconds.toFixed(1)} s at the ${lines.place}${lines.axis === 'single' ? null : `, axis ${lines.axis.toUpperCase()}`}. Dashed lines: where a part's line was expected; full: where one was found.${lines.expected ? null : ' How fast the shafts turned in these seconds is not known, so no line has an expected place.'}</figcaption></figure>`
}
</section>`;
}

function oneLook({ component, name, look }: ReportPlace, { withNames, run }: ReportData): Markup {
  const { record, inRun } = look!;
  const { verdict, bearing, reason, findings: found } = record;
  const [named, why] = [verdictText(verdict, bearing), sentence(reason)];
  const apart = run === null ? '' : ', not in this run';
  const when = inRun ? 'In these samples' : `Looked at on ${dayText(record.startMs, withNames)}${apart}`;
  return html`<h3>${component}: ${name}</h3>
<p><strong>${named}.</strong> ${why === `${named}.` ? null : why}</p>
${
  found.length === 0
    ? null
    : html`<ul>${found.map(
        (finding) =>
          html`<li>${findingSentence(finding, bearing)} ${sentence(finding.note)}${finding.rivals.length === 0 ? null : html`<br>Other explanations: ${finding.rivals.map(rivalText).join('; ')}.`}</li>`,
      )}</ul>`
}
<p class="hint">${when}. ${conditionsText(record)}</p>`;
}
