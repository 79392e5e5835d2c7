import { kindWords } from '../../../contract/words/runs.ts';
import type { ReportData } from '../data.ts';
import { html, type Markup } from '../html.ts';
import { dayText } from '../words.ts';

/** The result and what to do next, before anything else; above it only what keeps people safe. */
export function top(data: ReportData): Markup {
  const { headline, run, asset, withNames } = data;
  const subject = asset.name === null ? `A ${asset.kind}` : `${asset.name}, a ${asset.kind}`;
  const facts: [string, string][] = [
    ['Measured on', `${subject} (ISO 10816-1 class ${asset.machineClass})`],
    ...(run === null
      ? []
      : ([
          ['When', dayText(run.startMs, withNames)],
          [
            'How',
            `${kindWords(run.kind).label} run of ${duration(run.seconds)}${run.source === 'import' ? ', a recording made elsewhere' : ''}`,
          ],
        ] as [string, string][])),
    ['Locations', `${data.places.length}`],
    ...(data.site === null ? [] : [['Station', data.site] as [string, string]]),
    ...(run?.operator == null ? [] : [['Measured by', run.operator] as [string, string]]),
  ];
  return html`<header>
<p class="kind">Vibration report${run === null ? null : `, run ${run.id}`}</p>
${headline.safety === null ? null : html`<p class="safety"><strong>Safety first.</strong> ${headline.safety}</p>`}
<h1>${headline.result}</h1>
<p class="next"><strong>Next:</strong> ${headline.next}</p>
<dl class="facts">${facts.map(([name, value]) => html`<div><dt>${name}</dt><dd>${value}</dd></div>`)}</dl>
</header>`;
}

export function duration(seconds: number): string {
  const whole = Math.round(seconds);
  if (whole < 120) return `${whole} s`;
  const minutes = Math.round(whole / 60);
  return minutes < 120 ? `${minutes} min` : `${(whole / 3600).toFixed(1)} h`;
}
