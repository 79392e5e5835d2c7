import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, it } from 'vitest';
import { findBrowser, launchBrowser } from '../../support/browser.ts';
import { addPastWeeks, mountedForWeeks } from '../../support/past-weeks.ts';
import { openScreen, SCREENS } from '../../support/screen.ts';
import { startWebFixture, type WebFixture } from '../../support/web-fixture.ts';

const executable = findBrowser();
if (executable === null)
  console.warn('SKIPPED: no Chromium or Chrome found, so the screens of weeks were not tested.');

const PLACE = 'Bus 2 / Output bearing';

describe.skipIf(executable === null)('screens of weeks in Chromium', () => {
  let browser: Browser;
  let station: WebFixture;

  beforeAll(async () => {
    station = await startWebFixture({ scenario: true, mountedMs: mountedForWeeks() });
    await addPastWeeks(station);
    browser = await launchBrowser(executable!);
  });
  afterAll(async () => {
    await browser?.close();
    await station?.close();
  });

  it.each(SCREENS)('show a trend with its figures and others beside it on %s', async (...screen) => {
    const { page, enter, isSound, close } = await openScreen(browser, station.url, screen);
    await enter(`/location/${station.places[PLACE]}`);
    await page.getByText(/more than the own scatter explains since/).waitFor();
    await page.getByRole('link', { name: 'Trend over weeks' }).click();
    await page.getByRole('img', { name: /^Velocity RMS of \d+ runs of Output bearing, Bus 2/ }).waitFor();
    await page.getByText(/From an unchanged machine it would come about once in/).waitFor();
    await page.getByLabel('Output bearing, Bus 1').check();
    await page.getByLabel('Pinion bearing, Bus 2').check();
    await page.getByText(/Of the 3 shown, Output bearing of Bus 2 has changed most/).waitFor();
    await page.getByText('The newest 40 of').click();
    await isSound('weeks-trend');

    await page.getByLabel('Condition').selectOption({ index: 1 });
    await page.getByText(/mm\/s( \(± [\d.]+ mm\/s by the sensor\))?, \d+ % above the baseline of/).waitFor();
    await page.getByRole('radio', { name: '4 weeks' }).check();
    await page.getByRole('button', { name: 'Earlier' }).click();
    await page.getByText(/^Over the ([5-9]|1[0-2]) runs shown|^No rise or fall/).waitFor();
    await isSound('weeks-trend-zoomed');
    await close();
  });

  it('take a note of a repair, which begins a new stretch, and leave a run out', async () => {
    const { page, enter, close } = await openScreen(browser, station.url, SCREENS[0]);
    await enter(`/location/${station.places['Bus 1 / Output bearing']}/weeks`);
    await page.getByText('Nothing noted.').waitFor();
    await page.getByText(/^The newest 40 of 5/).click();
    await page
      .getByRole('button', { name: /^Leave out/ })
      .first()
      .click();
    await page.getByText('no: left out by hand').waitFor();
    await page.getByRole('combobox', { name: /^What/ }).selectOption('Oil change');
    await page.getByLabel('Details').fill('gearbox oil, 2 litres');
    await page.getByRole('button', { name: 'Note it' }).click();
    await page.getByText(/Oil change, gearbox oil, 2 litres \(Ines\)/).waitFor();
    await page.getByText(/What is normal here is not known yet: 8 more runs are needed/).waitFor();
    await close();
  });
});
