import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { accessibilityViolations, findBrowser, launchBrowser } from '../../support/browser.ts';
import { addPastWeeks, mountedForWeeks } from '../../support/past-weeks.ts';
import { PERSON, startWebFixture, type WebFixture } from '../../support/web-fixture.ts';

const executable = findBrowser();
if (executable === null)
  console.warn('SKIPPED: no Chromium or Chrome found, so the screens of repairs put off were not tested.');

const DAY_MS = 86_400_000;
const PLACE = 'Bus 2 / Output bearing';
const SCREENS = [
  ['a phone', { width: 390, height: 844 }, 'light'],
  ['a phone, dark', { width: 390, height: 844 }, 'dark'],
  ['a desk', { width: 1280, height: 800 }, 'light'],
] as const;
/** Where to put pictures for a person to look at; nowhere by default. */
const pictures = process.env['CLAMPLINE_TEST_PICTURES'];

describe.skipIf(executable === null)('screens of repairs put off in Chromium', () => {
  let browser: Browser;
  let station: WebFixture;
  /** The station's clock runs ahead of the real one by this. */
  let aheadMs = 0;
  const assetOf = (place: string) => station.records.assets.location(station.places[place]!).assetId;

  beforeAll(async () => {
    station = await startWebFixture({
      scenario: true,
      mountedMs: mountedForWeeks(),
      now: () => Date.now() + aheadMs,
    });
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
    'agree on a watch plan with what the trend suggests, on %s',
    async (name, size, scheme) => {
      const { page, enter, sound, close } = await open(name, size, scheme);
      await enter(`/location/${station.places[PLACE]}`);
      await page.getByRole('link', { name: 'Watch plan' }).click();
      await page.getByRole('heading', { name: 'A new plan' }).waitFor();
      await page.getByText(/^Suggested: \d+\. .*Output bearing/).waitFor();
      await page.getByLabel('50-60 km/h').check();
      await page.getByLabel('In your own words').fill('Hum can be heard on the rear seat\nOil at the flange');
      await page.getByLabel('Who is told').fill('Ines, by phone');
      await page.getByLabel('Agreed by').fill('Depot head and Ines');
      await page.getByLabel('Stop at so many times the baseline').first().fill('2.2');
      await sound('watch-new');
      await page.getByRole('button', { name: 'Begin this plan' }).click();
      await page.getByText('Begun: see above.').waitFor();
      await page.getByText(/^velocity RMS at Output bearing: stop at 2.20 times its baseline/).waitFor();
      await page.getByText('Hum can be heard on the rear seat').first().waitFor();
      await sound('watch-open');
      await close();
    },
  );

  it('says on the list of levels by how many days a measurement is overdue', async () => {
    const { page, enter, sound, close } = await open('a phone', { width: 390, height: 844 }, 'light');
    const { records, places } = station;
    const plan = {
      locationId: places['Bus 1 / Pinion bearing']!,
      everyDays: 14,
      everyReason: '',
      conditions: {
        kind: 'road' as const,
        manoeuvres: [],
        bins: [],
        speed: '',
        load: '',
        note: '',
      },
      stopLimits: [],
      stopSigns: [],
      tell: 'Ines',
      agreedBy: 'Ines',
    };
    const { id } = records.watchPlans.begin(assetOf('Bus 1 / Pinion bearing'), plan, 'Ines');
    aheadMs = 19 * DAY_MS;
    await enter('/');
    const line = page.getByRole('link', {
      name: 'Watch plan, Pinion bearing: measurement overdue by 5 days',
    });
    await line.waitFor();
    await sound('watch-overdue');
    await line.click();
    await page.getByRole('button', { name: 'End this plan' }).click();
    await page.getByLabel('Why it ends').fill('Bearing replaced');
    await page.getByRole('button', { name: 'End it' }).click();
    await page.getByText(/Bearing replaced \(Ines\)/).waitFor();
    expect(records.watchPlans.plan(id)).toMatchObject({ endReason: 'Bearing replaced', endedBy: 'Ines' });
    aheadMs = 0;
    await close();
  });

  it('say first that a wheel bearing is not to wait', async () => {
    const { page, enter, sound, close } = await open('a phone', { width: 390, height: 844 }, 'light');
    const place = station.places['Bus 1 / Left wheel bearing'];
    await enter(`/assets/${assetOf('Bus 1 / Left wheel bearing')}/watch?location=${place}`);
    await page.getByText(/^Do not put this off\./).waitFor();
    await sound('watch-wheel-bearing');
    await close();
  });
});
