/** Loaded only when the first picture is drawn: the chart library weighs more than the rest of the page. */
export { createSpectrumChart } from './spectrum.ts';
export { createThenNowChart } from './then-now.ts';
export { createTrendChart } from './trend.ts';
export { createWaveformChart } from './waveform.ts';
export { createWeeksChart } from './weeks.ts';
