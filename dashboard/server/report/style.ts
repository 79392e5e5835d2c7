/** The report's own style: on paper and on a phone, in one hue. */
export const STYLE = `
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0; background: #fff; color: #14202b; font: 16px/1.5 system-ui, sans-serif; overflow-wrap: anywhere; }
main { max-width: 62rem; margin: 0 auto; padding: 1rem; }
h1 { margin: 0.5rem 0; font-size: 1.6rem; line-height: 1.3; }
h2 { margin: 0 0 0.5rem; font-size: 1.2rem; }
h3 { margin: 1rem 0 0.25rem; font-size: 1rem; }
p, ul, dl, figure { margin: 0.5rem 0; }
ul { padding-left: 1.25rem; }
section { margin-top: 1.25rem; padding-top: 1rem; border-top: 1px solid #d8e0e8; }
.kind, .hint, .none, figcaption, dt { color: #4a5b6b; }
.hint, figcaption { font-size: 0.875rem; }
.safety { padding: 0.75rem 1rem; border: 3px solid #a36a00; background: #fff3d6; }
.next { padding: 0.6rem 0.9rem; border-left: 4px solid #0f5488; background: #eef4fa; font-size: 1.1rem; }
.verdict { font-weight: 650; }
.as-written { white-space: pre-wrap; }
dl > div { display: grid; grid-template-columns: minmax(7rem, 30%) 1fr; gap: 0 0.75rem; }
dd { margin: 0; }
.two { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 22rem), 1fr)); gap: 1rem 2rem; }
.wide { overflow-x: auto; }
table { width: 100%; border-collapse: collapse; font-size: 0.9375rem; font-variant-numeric: tabular-nums; }
th, td { padding: 0.3rem 0.6rem 0.3rem 0; border-bottom: 1px solid #d8e0e8; text-align: left; vertical-align: top; overflow-wrap: normal; }
tbody th { font-weight: 400; }
.figure { white-space: nowrap; }
.hash { font: 0.8125rem/1.4 ui-monospace, monospace; overflow-wrap: anywhere; }
.clips { padding: 0; list-style: none; }
.clips p { margin: 0.75rem 0 0.25rem; }
audio { width: 100%; max-width: 30rem; }
img, svg { display: block; width: 100%; height: auto; }
svg text { fill: #14202b; font: 13px system-ui, sans-serif; }
.grid { stroke: #d8e0e8; }
.edge { fill: none; stroke: #75869a; }
.whisker { stroke: #0f5488; stroke-width: 1.5; }
.dot { fill: #0f5488; stroke: #0f5488; stroke-width: 1.5; }
.hollow { fill: #fff; }
.stroke { fill: none; stroke: #0f5488; stroke-width: 2; }
.mark { fill: #a36a00; }
.spread { fill: #0f5488; fill-opacity: 0.14; }
.base { stroke: #14202b; }
.limit { stroke: #14202b; stroke-dasharray: 8 4; }
.fine { stroke-dasharray: 2 4; }
.event { stroke: #8a5200; }
.slope { stroke: #8a5200; stroke-width: 2; stroke-dasharray: 12 5; }
svg .zone { font-size: 16px; font-weight: 700; }
@media (max-width: 40rem) {
  h1 { font-size: 1.3rem; }
  .wide table { min-width: 40rem; }
  svg text { font-size: 20px; }
  .pan { min-width: 44rem; }
}
@media print {
  @page { margin: 15mm; }
  body { font-size: 10.5pt; }
  main { max-width: none; padding: 0; }
  h2, h3 { break-after: avoid; }
  figure, tr, .safety, .next { break-inside: avoid; }
  .wide { overflow: visible; }
  audio { display: none; }
  .clips p::after { content: " (the sound is in the file)"; }
}
`;
