import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { accessibilityViolations, findBrowser, launchBrowser } from '../../support/browser.ts';
import { addPastWeeks, mountedForWeeks } from '../../support/past-weeks.ts';
import { PERSON, startWebFixture, type WebFixture } from '../../support/web-fixture.ts';

const executable = findBrowser();
if (executable === null)
  console.warn('SKIPPED: no Chromium or Chrome found, so the screens of weeks were not tested.');

const PLACE = 'Bus 2 / Output bearing';
const SCREENS = [
  ['a phone', { width: 390, height: 844 }, 'light'],
  ['a phone, dark', { width: 390, height: 844 }, 'dark'],
  ['a desk', { width: 1280, height: 800 }, 'light'],
] as const;
/** Where to put pictures for a person to look at; nowhere by default. */
const pictures = process.env['CLAMPLINE_TEST_PICTURES'];

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

  async function open(
    name: string,
    viewport: { width: number; height: number },
    colorScheme: 'light' | 'dark',
  ) {
    const context = await browser.newContext({ viewport, colorScheme });
    const page: Page = await context.newPage();
    page.setDefaultTimeout(30_000);
    const trouble: string[] = [];
    page.on('pageerror', (error) => trouble.push(error.message));
    const enter = async (path: string) => {
      await page.goto(`${station.url}${path}`);
      await page.getByLabel('Name').fill(PERSON.name);
      await page.getByLabel('Password').fill(PERSON.password);
      await page.getByRole('button', { name: 'Sign in' }).click();
    };
    /** Fits the screen, is accessible, and has its picture taken. */
    const sound = async (what: string) => {
      expect(
        await page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth'),
      ).toBe(0);
      expect(await accessibilityViolations(page)).toEqual([]);
      expect(trouble).toEqual([]);
      if (pictures === undefined) return;
      mkdirSync(pictures, { recursive: true });
      await page.screenshot({ path: join(pictures, `${what}-${name}.png`), fullPage: true });
    };
    return { page, enter, sound, close: () => context.close() };
  }

  it.each(SCREENS)(
    'show a trend with its figures and others beside it on %s',
    async (name, viewport, scheme) => {
      const { page, enter, sound, close } = await open(name, viewport, scheme);
      await enter(`/location/${station.places[PLACE]}`);
      await page.getByText(/more than the own scatter explains since/).waitFor();
      await page.getByRole('link', { name: 'Trend over weeks' }).click();
      await page.getByRole('img', { name: /^Velocity RMS of \d+ runs of Output bearing, Bus 2/ }).waitFor();
      await page.getByText(/From an unchanged machine it would come about once in/).waitFor();
      await page.getByLabel('Output bearing, Bus 1').check();
      await page.getByLabel('Pinion bearing, Bus 2').check();
      await page.getByText(/Of the 3 shown, Output bearing of Bus 2 has changed most/).waitFor();
      await page.getByText('The newest 40 of').click();
      await sound('weeks-trend');

      await page.getByLabel('Condition').selectOption({ index: 1 });
      await page.getByText(/mm\/s, \d+ % above the baseline of/).waitFor();
      await page.getByRole('radio', { name: '4 weeks' }).check();
      await page.getByRole('button', { name: 'Earlier' }).click();
      await page.getByText(/^Over the ([5-9]|1[0-2]) runs shown|^No rise or fall/).waitFor();
      await sound('weeks-trend-zoomed');
      await close();
    },
  );

  it('take a note of a repair, which begins a new stretch, and leave a run out', async () => {
    const { page, enter, close } = await open('note', { width: 390, height: 844 }, 'light');
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
