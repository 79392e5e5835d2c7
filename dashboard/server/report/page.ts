import { createHash } from 'node:crypto';
import type { ReportData } from './data.ts';
import { html, type Part } from './html.ts';
import { comparison } from './sections/comparison.ts';
import { complaint } from './sections/complaint.ts';
import { findings } from './sections/findings.ts';
import { levels } from './sections/levels.ts';
import { media } from './sections/media.ts';
import { cautions, evidence, method, sensors } from './sections/method.ts';
import { top } from './sections/top.ts';
import { STYLE } from './style.ts';

const styleHash = createHash('sha256').update(STYLE).digest('base64');

/** What a report may do, wherever it is opened: show itself. No script, no request. */
export const REPORT_POLICY = [
  "default-src 'none'",
  `style-src 'sha256-${styleHash}'`,
  'img-src data:',
  'media-src data:',
  "base-uri 'none'",
  "form-action 'none'",
].join('; ');

/** The whole report, in the order in which somebody elsewhere needs it. */
export function reportPage(data: ReportData): string {
  const { run } = data;
  const name = run === null ? 'Vibration report' : `Vibration report, run ${run.id}`;
  const parts: Part[] = [
    top(data),
    run === null ? null : complaint(run),
    comparison(data),
    data.media === null ? null : media(data.media),
    findings(data),
    levels(data),
    sensors(data),
    method(data),
    cautions(),
    evidence(data),
  ];
  return html`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="${REPORT_POLICY}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="robots" content="noindex">
<meta name="referrer" content="no-referrer">
<title>${name}</title>
<style>${{ markup: STYLE }}</style>
</head>
<body>
<main>
${parts}
</main>
</body>
</html>
`.markup;
}
