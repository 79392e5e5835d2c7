import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest';
import { type FleetReader, openFleetReader } from '../../../collector/index.ts';
import { replayFlux } from '../../collector/store/influx/replayed-flux.ts';
import { NOW_MS } from '../../collector/store/influx/two-sites.ts';
import { accessibilityViolations, findBrowser, launchBrowser } from '../../support/browser.ts';
import { PERSON, startWebFixture } from '../../support/web-fixture.ts';

const executable = findBrowser();
if (executable === null)
  console.warn('SKIPPED: no Chromium or Chrome found, so the page of sites was not tested.');

const SCREENS = [
  ['a phone', { width: 390, height: 844 }, 'light'],
  ['a phone, dark', { width: 390, height: 844 }, 'dark'],
  ['a desk', { width: 1280, height: 800 }, 'light'],
] as const;
/** Where to put pictures for a person to look at; nowhere by default. */
const pictures = process.env['CLAMPLINE_TEST_PICTURES'];

describe.skipIf(executable === null)('the page of sites in Chromium', () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launchBrowser(executable!);
  });
  afterAll(() => browser?.close());

  /** A person signed in at the station `depot`. */
  async function signedIn(fleet: FleetReader | 'write-only' | undefined, options = {}) {
    const beganMs = Date.now();
    const station = await startWebFixture({
      scenario: true,
      site: 'depot',
      now: () => NOW_MS + Date.now() - beganMs,
      ...(fleet === undefined ? {} : { fleet }),
    });
    onTestFinished(() => station.close());
    const context = await browser.newContext(options);
    onTestFinished(() => context.close());
    const page = await context.newPage();
    page.setDefaultTimeout(30_000);
    await page.goto(station.url);
    await page.getByLabel('Name').fill(PERSON.name);
    await page.getByLabel('Password').fill(PERSON.password);
    await page.getByRole('button', { name: 'Sign in' }).click();
    await page.getByRole('navigation', { name: 'Pages' }).waitFor();
    return page;
  }

  /** Answers as a database did when it was recorded, while `fail` says nothing. */
  async function database(fail: () => number | null = () => null): Promise<FleetReader> {
    const { settings, close } = await replayFlux({ fail });
    onTestFinished(async () => void (await close()));
    return openFleetReader(settings, () => NOW_MS);
  }

  it.each(SCREENS)(
    'shows every site with level, zone, age and finding on %s',
    async (name, viewport, scheme) => {
      const page = await signedIn(await database(), { viewport, colorScheme: scheme });
      await page.getByRole('link', { name: 'Sites' }).click();
      const depot = page.getByRole('region', { name: 'depot (this station)' });
      await depot.getByText('Left hub', { exact: true }).waitFor();
      const hub = depot.getByRole('listitem').filter({ hasText: 'Rear axle' });
      expect(await hub.textContent()).toMatch(/4\.00mm\/s± 0\.50/);
      await hub.getByText(/outer race.*6205/i).waitFor();
      const alerts = depot.getByRole('list', { name: 'Open alerts of depot' });
      await alerts.getByText('Bus 1, Left hub: velocity RMS has risen').waitFor();
      await alerts.getByText(/1\.62 times the baseline, limit 1\.40 .*, acknowledged$/).waitFor();
      await page.getByText(/Nothing heard of "Rear, left"/).waitFor();
      await depot.getByText('1 sensor measures at no location that is known.').waitFor();
      await page.getByRole('region', { name: 'harbour' }).getByText('Bus 7, "the blue one"').waitFor();
      const yard = page.getByRole('region', { name: 'yard' });
      await yard.getByText('Asset 4').waitFor();
      await yard.getByText(/it has not told its names/).waitFor();
      expect(
        await page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth'),
      ).toBe(0);
      expect(await accessibilityViolations(page)).toEqual([]);
      if (pictures === undefined) return;
      mkdirSync(pictures, { recursive: true });
      await page.screenshot({ path: join(pictures, `sites-${name}.png`), fullPage: true });
    },
  );

  it('says that the database is away, and shows the sites when it is back', async () => {
    let status: number | null = 503;
    const page = await signedIn(await database(() => status));
    await page.getByRole('link', { name: 'Sites' }).click();
    await page
      .getByRole('alert')
      .getByText(/database/)
      .waitFor();
    status = null;
    await page.getByText('Left hub', { exact: true }).waitFor();
  });

  it('is not offered to a station by itself, and says so when it is opened all the same', async () => {
    const page = await signedIn(undefined);
    expect(await page.getByRole('link', { name: 'Sites' }).count()).toBe(0);
    await page.goto(new URL('/sites', page.url()).href);
    await page.getByText('This station shares no database with other sites.').waitFor();
  });

  it('says that a station which only writes cannot show the others', async () => {
    const page = await signedIn('write-only');
    await page.getByRole('link', { name: 'Sites' }).click();
    await page.getByText(/it may not read there/).waitFor();
    expect(await accessibilityViolations(page)).toEqual([]);
  });
});
