import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { bandEdgeHz } from '../../../collector/dsp/twelfth-octaves.ts';
import type { BlockSpectrum } from '../../../collector/model.ts';
import { findBrowser, launchBrowser } from '../../support/browser.ts';
import { openScreen, SCREENS } from '../../support/screen.ts';
import { readingOf, startWebFixture, type WebFixture } from '../../support/web-fixture.ts';

const executable = findBrowser();
if (executable === null)
  console.warn('SKIPPED: no Chromium or Chrome found, so the screen of kept spectra was not tested.');

const PLACE = 'Bus 1 / Pinion bearing';
const FIRST_BAND = -92;

/** Noise with lines of the given RMS; axes x and y have half and a third of it. */
function blockOf(
  startMs: number,
  key: { nodeId: string; sensor: number },
  lines: [hz: number, rms: number][],
) {
  const density = Float64Array.from({ length: 95 }, (_, i) => {
    const [from, to] = [bandEdgeHz(FIRST_BAND + i), bandEdgeHz(FIRST_BAND + i + 1)];
    const inside = lines.filter(([hz]) => hz >= from && hz < to);
    return 4e-5 + inside.reduce((sum, [, rms]) => sum + rms ** 2 / (to - from), 0);
  });
  const axes: BlockSpectrum['axes'] = ['x', 'y', 'z'];
  const shares = [1 / 4, 1 / 9, 1];
  const all = shares.map((share) => density.map((value) => value * share));
  return { ...key, startMs, axes, firstBand: FIRST_BAND, density: all };
}

describe.skipIf(executable === null)('spectrum then and now in Chromium', () => {
  let browser: Browser;
  let station: WebFixture;
  const nowMs = Math.floor(Date.now() / 60_000) * 60_000 + 30_000;

  beforeAll(async () => {
    station = await startWebFixture({ scenario: true });
    const key = station.sensors[PLACE]!;
    const seconds = (fromMs: number) => Array.from({ length: 600 }, (_, i) => fromMs + 1000 * i);
    const [then, now] = [seconds(nowMs - 90 * 60_000 - 30_000), seconds(nowMs - 10 * 60_000 - 30_000)];
    await station.store(
      [...then, ...now].map((at) => readingOf(key, at, at < nowMs - 3_600_000 ? 1.1 : 1.9)),
      [
        ...then.map((at) =>
          blockOf(at, key, [
            [24, 0.4],
            [311, 0.2],
            [622, 0.05],
          ]),
        ),
        ...now.map((at) =>
          blockOf(at, key, [
            [24, 0.42],
            [311, 0.6],
            [622, 0.05],
            [540, 0.15],
          ]),
        ),
      ],
    );
    browser = await launchBrowser(executable!);
  });
  afterAll(async () => {
    await browser?.close();
    await station?.close();
  });

  it.each(SCREENS)('lays two moments over each other on %s', async (...screen) => {
    const { page, enter, isSound, close } = await openScreen(browser, station.url, screen);
    await enter(`/location/${station.places[PLACE]}`);

    const panel = page.getByRole('region', { name: 'Spectrum then and now' });
    // Nothing was kept a day ago: the nearest that was is offered.
    await panel.getByText('No sound second was kept of “then”.').waitFor();
    await isSound('spectrum-missing');
    await panel.getByRole('button', { name: /the nearest kept/ }).click();
    await panel.getByText(/Solid: now, .* sound seconds\. Dashed: then, .* sound seconds\./).waitFor();
    await panel.getByLabel('Axis of both').selectOption('z');
    // 0.2 to 0.6 m/s² is +9.5 dB, and a line that was not there before stands out most.
    await panel.getByText(/^299 to 316 Hz: 0\.20\d then, 0\.60\d m\/s² RMS now, \+9\.\d dB$/).waitFor();
    expect(await panel.getByRole('listitem').first().textContent()).toMatch(
      /^531 to 562 Hz: .*\+1\d\.\d dB$/,
    );
    expect(await panel.getByRole('listitem').count()).toBe(2);
    await panel.getByRole('img', { name: /^Acceleration spectrum, Z/ }).waitFor();
    await panel.getByLabel('Axis of both').selectOption('y');
    await panel.getByText('Greatest changes, Y:').waitFor();
    await isSound('spectrum-then-now');

    await panel.getByLabel('Then, from').fill('2020-01-01T00:00');
    await panel.getByText('No sound second was kept of “then”.').waitFor();
    await close();
  });

  it('says so where none is kept yet', async () => {
    const { page, enter, close } = await openScreen(browser, station.url);
    await enter(`/location/${station.places['Bus 2 / Output bearing']}`);
    await page.getByText(/^None is kept yet/).waitFor();
    await close();
  });
});
