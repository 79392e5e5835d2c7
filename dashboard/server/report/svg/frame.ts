/** Axes that the report's own pictures share. Shapes and dashes tell things apart, never a hue. */
import { linearTicks, tickText } from '../../../../collector/index.ts';
import { html, type Markup, type Part } from '../html.ts';

export interface Box {
  left: number;
  top: number;
  width: number;
  height: number;
}

export const at = (value: number): string => value.toFixed(1);

/** Upright axis from `bottom` to `top` with its lines across the box. */
export function upright(box: Box, range: { bottom: number; top: number; label: string }) {
  const { bottom, top, label } = range;
  const y = (value: number) => box.top + box.height * (1 - (value - bottom) / (top - bottom));
  const ticks = linearTicks(top - bottom, 6).map((tick) => tick + bottom);
  const markup = html`${ticks.map(
    (
      tick,
    ) => html`<line class="grid" x1="${box.left}" x2="${box.left + box.width}" y1="${at(y(tick))}" y2="${at(y(tick))}"/>
<text x="${box.left - 8}" y="${at(y(tick) + 4)}" text-anchor="end">${tickText(tick)}</text>`,
  )}
<text transform="translate(${box.left - 56} ${at(box.top + box.height / 2)}) rotate(-90)" text-anchor="middle">${label}</text>`;
  return { y, markup };
}

/** A picture with a text in its place for who cannot see it. */
export function picture(width: number, height: number, name: string, inside: Part): Markup {
  return html`<svg viewBox="0 0 ${width} ${height}" role="img" aria-label="${name}">
${inside}
</svg>`;
}

/** Marks that stay apart in black and white. */
export const SHAPES: readonly ((x: number, y: number) => Markup)[] = [
  (x, y) => html`<circle class="dot" cx="${at(x)}" cy="${at(y)}" r="4.5"/>`,
  (x, y) => html`<rect class="dot hollow" x="${at(x - 4)}" y="${at(y - 4)}" width="8" height="8"/>`,
  (x, y) => html`<path class="dot hollow" d="M${at(x)} ${at(y - 5)}l5 9h-10z"/>`,
  (x, y) => html`<path class="dot" d="M${at(x)} ${at(y - 5)}l5 5l-5 5l-5 -5z"/>`,
  (x, y) => html`<path class="stroke" d="M${at(x - 4)} ${at(y - 4)}l8 8m0 -8l-8 8"/>`,
  (x, y) => html`<path class="stroke" d="M${at(x - 5)} ${at(y)}h10m-5 -5v10"/>`,
];
export const shapeOf = (index: number) => SHAPES[index % SHAPES.length]!;
