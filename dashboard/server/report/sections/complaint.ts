import { CHECKS, COMPLAINT, OUTCOMES, VEHICLE } from '../../../contract/words/runs.ts';
import type { ReportRun } from '../data.ts';
import { html, type Markup } from '../html.ts';
import { duration } from './top.ts';

/** What is complained of, and under which conditions it was looked for. */
export function complaint(run: ReportRun): Markup {
  const said = COMPLAINT.map(({ key, label }) => [label, run.complaint[key].trim()] as const).filter(
    ([, text]) => text !== '',
  );
  return html`<section class="two">
<div><h2>Complaint</h2>
${said.length === 0 ? html`<p class="none">Nothing was written down.</p>` : html`<dl>${said.map(([label, text]) => html`<div><dt>${label}</dt><dd>${text}</dd></div>`)}</dl>`}
${run.notes === null ? null : html`<h3>Notes</h3><p class="as-written">${run.notes}</p>`}
</div>
<div><h2>Conditions</h2>${conditions(run)}</div>
</section>`;
}

function conditions(run: ReportRun): Markup {
  const outcome = OUTCOMES.find(({ value }) => value === run.outcome);
  const rows: [string, string][] = [
    ...(outcome === undefined ? [] : ([['Outcome', outcome.label]] as [string, string][])),
    ['Noise marked', marksText(run)],
    ...(run.odometerKm === null ? [] : ([['Odometer', `${run.odometerKm} km`]] as [string, string][])),
    ...run.vehicle.map(({ quantity, low, middle, high }): [string, string] => {
      const { name, unit, digits } = VEHICLE[quantity];
      const range = low === high ? '' : ` (${low.toFixed(digits)} to ${high.toFixed(digits)})`;
      return [name, `${middle.toFixed(digits)} ${unit}${range}`];
    }),
  ];
  return html`<dl>${rows.map(([name, text]) => html`<div><dt>${name}</dt><dd>${text}</dd></div>`)}</dl>
${run.vehicle.length === 0 ? html`<p class="hint">The vehicle told no speed, gear or load.</p>` : html`<p class="hint">As the vehicle told ${run.vehicleSpan === 'noise' ? 'in the seconds with the noise' : 'during the run'}: middle, and lowest to highest.</p>`}
${manoeuvres(run)}${checks(run)}`;
}

function marksText({ marks }: ReportRun): string {
  if (marks.length === 0) return 'nothing; the whole run counts as noise';
  const held = marks.reduce((sum, { fromS, toS }) => sum + (toS === null ? 0 : toS - fromS), 0);
  const times = `${marks.length} ${marks.length === 1 ? 'time' : 'times'}`;
  return held > 0 ? `${times}, ${duration(held)} in all` : times;
}

const HEARD = { present: 'noise there', absent: 'no noise', unclear: 'not sure' };
const PITCH = { same: ', same pitch', changed: ', pitch changed' };

function manoeuvres({ manoeuvres: made, suspects }: ReportRun): Markup | null {
  if (made.length === 0) return null;
  return html`<h3>Manoeuvres</h3><ul>${made.map(
    ({ title, fromS, noise, pitch }) =>
      html`<li>${title}, from second ${Math.round(fromS)}: ${noise === null ? 'not said' : HEARD[noise]}${pitch === null ? null : PITCH[pitch]}</li>`,
  )}</ul>${suspects === null ? null : html`<p>${suspects}</p>`}`;
}

function checks({ checks: done }: ReportRun): Markup | null {
  if (done.length === 0) return null;
  return html`<h3>Checked before measuring</h3><ul>${done.map(
    ({ id, state, note }) =>
      html`<li>${CHECKS.find((check) => check.id === id)?.label ?? id}: ${state === 'in-order' ? 'in order' : 'fault found'}${note === '' ? null : `, ${note}`}</li>`,
  )}</ul>`;
}
