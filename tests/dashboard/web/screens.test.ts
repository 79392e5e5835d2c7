import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { Flag } from '../../../collector/index.ts';
import { accessibilityViolations, findBrowser, launchBrowser } from '../../support/browser.ts';
import { liveOf, PERSON, readingOf, startWebFixture, type WebFixture } from '../../support/web-fixture.ts';

const executable = findBrowser();
if (executable === null)
  console.warn('SKIPPED: no Chromium or Chrome found, so the screens were not tested.');

const PHONE = { width: 390, height: 844 };
/** The narrowest screen that WCAG 1.4.10 asks for. */
const NARROW = { width: 320, height: 640 };
const DESK = { width: 1280, height: 800 };
/** Patience for a busy machine, not a claim about speed. */
const PATIENCE_MS = 20_000;

const lastSecond = () => Math.floor(Date.now() / 1000) * 1000 - 1000;

describe.skipIf(executable === null)('screens in Chromium', () => {
  let browser: Browser;
  let context: BrowserContext;
  let page: Page;
  let station: WebFixture;
  let trouble: string[];

  beforeAll(async () => {
    browser = await launchBrowser(executable!);
  });
  afterAll(() => browser?.close());

  async function open(viewport = DESK, colorScheme: 'light' | 'dark' = 'light'): Promise<void> {
    context = await browser.newContext({ viewport, colorScheme });
    page = await context.newPage();
    page.setDefaultTimeout(PATIENCE_MS);
    trouble = [];
    page.on('pageerror', (error) => trouble.push(error.message));
    page.on('console', (message) => {
      if (message.type() === 'error') trouble.push(message.text());
    });
  }

  async function signIn(path = '/'): Promise<void> {
    await page.goto(station.url + path);
    await page.getByLabel('Name').fill(PERSON.name);
    await page.getByLabel('Password').fill(PERSON.password);
    await page.getByRole('button', { name: 'Sign in' }).click();
    await page.getByRole('button', { name: 'Sign out' }).waitFor();
  }

  const row = (place: string) => page.locator(`[data-location="${station.places[place]}"]`);
  const heading = (name: string | RegExp) => page.getByRole('heading', { level: 1, name }).waitFor();

  /** Nobody should have to push a page sideways (WCAG 1.4.10). */
  const overhang = () =>
    page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth');

  describe('on a new station', () => {
    beforeEach(async () => {
      station = await startWebFixture({ scenario: false });
    });
    afterEach(async () => {
      await context.close();
      await station.close();
    });

    it('is set up by its one-time link, offers the demo, and fills with it', async () => {
      await open();
      await page.goto(`${station.url}/setup#${station.setupToken}`);
      await page.getByLabel('Your name').fill('Ines');
      expect(page.url()).toBe(`${station.url}/setup`);
      expect(await accessibilityViolations(page)).toEqual([]);
      await page.getByLabel('Password').fill('a long enough sentence');
      await page.getByRole('button', { name: 'Make the account' }).click();
      await heading('Nothing to measure yet');
      expect(await accessibilityViolations(page)).toEqual([]);
      await page.getByRole('button', { name: 'Start the demo' }).click();
      await page.getByRole('heading', { name: 'Bus 1' }).waitFor();
      await page.getByText('these levels come from virtual nodes').waitFor();
      expect(trouble).toEqual([]);
    });

    it('refuses a wrong link with a reason, and asks for one when it is missing', async () => {
      await open();
      await page.goto(`${station.url}/`);
      await page.getByLabel('Setup link').fill(`${station.url}/setup#wrong`);
      await page.getByLabel('Your name').fill('Ines');
      await page.getByLabel('Password').fill('a long enough sentence');
      await page.getByRole('button', { name: 'Make the account' }).click();
      await page.getByRole('alert').waitFor();
      expect((await page.getByRole('alert').textContent())?.length).toBeGreaterThan(30);
    });
  });

  describe('on a station with assets', () => {
    beforeEach(async () => {
      station = await startWebFixture({ scenario: true });
    });
    afterEach(async () => {
      await context.close();
      await station.close();
    });

    it('says that a password is wrong and shows nothing else', async () => {
      await open();
      await page.goto(`${station.url}/`);
      await page.getByLabel('Name').fill(PERSON.name);
      await page.getByLabel('Password').fill('a wrong password');
      await page.getByRole('button', { name: 'Sign in' }).click();
      await page.getByRole('alert').waitFor();
      expect(await page.getByText('Bus 1').count()).toBe(0);
      expect(await accessibilityViolations(page)).toEqual([]);
    });

    it.each([
      ['a narrow phone', NARROW, 'light'],
      ['a phone, light', PHONE, 'light'],
      ['a phone, dark', PHONE, 'dark'],
      ['a desk, light', DESK, 'light'],
      ['a desk, dark', DESK, 'dark'],
    ] as const)('shows levels with unit, axis, zone, age and flags on %s', async (_name, size, scheme) => {
      const [output, fan] = ['Bus 2 / Output bearing', 'Extraction fan / Drive end'];
      await station.publish(readingOf(station.sensors[output]!, lastSecond(), 3.456));
      await station.publish(readingOf(station.sensors[fan]!, lastSecond() - 600_000, 0.5, ['clipped']));
      await open(size, scheme);
      await signIn();
      await row(output).getByText('3.46', { exact: true }).waitFor();
      const text = await row(output).textContent();
      // Class II: over 2.8 and up to 7.1 mm/s is zone C.
      expect(text).toMatch(/mm\/s/);
      expect(text).toMatch(/axis Z/);
      expect(await row(output).getByText('zone C').count()).toBe(1);
      await row(fan)
        .getByText(/no data since \d\d:\d\d/)
        .waitFor();
      await row(fan)
        .getByText(/Clipped/i)
        .waitFor();
      await row('Extraction fan / Fan end').getByText('no sensor mounted').waitFor();
      expect(await overhang()).toBe(0);
      expect(await accessibilityViolations(page)).toEqual([]);
      expect(trouble).toEqual([]);
    });

    it('follows new readings, and touches no other row for them', async () => {
      const [changed, left] = ['Bus 2 / Output bearing', 'Extraction fan / Drive end'];
      const key = station.sensors[changed]!;
      const startMs = lastSecond();
      await station.publish(readingOf(station.sensors[left]!, startMs, 5.55));
      await station.publish(readingOf(key, startMs, 1.11));
      await open();
      await signIn();
      await row(changed).getByText('1.11').waitFor();
      await row(left).getByText('5.55').waitFor();
      await page.evaluate(`{
        window.touched = 0;
        const row = document.querySelector('[data-location="${station.places[left]}"]');
        const isAge = ({ target }) => (target.nodeType === 1 ? target : target.parentElement).closest('.age');
        const count = (records) => { window.touched += records.filter((record) => !isAge(record)).length; };
        new MutationObserver(count).observe(row, { subtree: true, childList: true, characterData: true, attributes: true });
      }`);
      for (const [step, text] of ['2.22', '3.33', '4.44'].entries()) {
        await station.publish(readingOf(key, startMs + 1000 * (step + 1), Number(text)));
        await row(changed).getByText(text, { exact: true }).waitFor();
      }
      expect(await page.evaluate('window.touched')).toBe(0);
    });

    it('says when the station is out of reach, and recovers by itself', async () => {
      const place = 'Bus 2 / Output bearing';
      await station.publish(readingOf(station.sensors[place]!, lastSecond(), 1.11));
      await open();
      await signIn();
      await row(place).getByText('1.11').waitFor();
      await station.stopServer();
      await page.getByText(/No connection to the station since/).waitFor();
      await row(place)
        .getByText(/last known/)
        .waitFor();
      expect(await accessibilityViolations(page)).toEqual([]);
      await station.startServer();
      await page.getByText(/No connection to the station/).waitFor({ state: 'detached' });
      await station.publish(readingOf(station.sensors[place]!, lastSecond() + 2000, 2.22));
      await row(place).getByText('2.22').waitFor();
    });

    it.each([
      ['a narrow phone', NARROW],
      ['a phone', PHONE],
      ['a desk', DESK],
    ] as const)('shows one location with values, live pictures and trend on %s', async (_name, size) => {
      const place = 'Bus 2 / Output bearing';
      const key = station.sensors[place]!;
      const ages = Array.from({ length: 1200 }, (_, index) => 1200 - index);
      const flagsAt = (ageS: number): Flag[] => (ageS > 600 && ageS < 700 ? ['gap'] : []);
      await station.store(ages.map((ageS) => readingOf(key, lastSecond() - ageS * 1000, 2, flagsAt(ageS))));
      await station.publish(readingOf(key, lastSecond(), 3.456));
      await open(size);
      await signIn(`/location/${station.places[place]}`);
      await heading('Output bearing');
      const cells = page.getByRole('row', { name: /^Velocity RMS/ }).getByRole('cell');
      // 0.55, 0.71 and 1 times 3.456 mm/s: the axes of the reading that was published.
      expect(await cells.allInnerTexts()).toEqual(['1.90', '2.45', '3.46']);
      await page.getByText('10 to 1000 Hz').first().waitFor();
      await page.getByText(/Class II has its boundaries at 1.12, 2.8 and 7.1 mm\/s/).waitFor();
      await page.getByText(/made for stationary machines at steady speed/).waitFor();
      await page.getByText(/flagged readings left out/).waitFor();

      await page.getByText('Waiting for the next second').waitFor();
      await station.publishLive(liveOf(key, lastSecond()));
      await page.getByText('Highest line at 24 Hz').waitFor();
      for (const name of [/^Waveform of acceleration, Z/, /^Amplitude spectrum of acceleration, Z/, /^Trend/])
        await page.getByRole('img', { name }).waitFor();
      await page.getByRole('radio', { name: 'Logarithmic' }).check();
      await page.getByRole('button', { name: 'Kurtosis' }).click();
      await page.getByText(/3 for random noise/).waitFor();
      expect(await overhang()).toBe(0);
      expect(await accessibilityViolations(page)).toEqual([]);
      expect(trouble).toEqual([]);
    });

    it('says when the live picture has stopped', async () => {
      const place = 'Bus 2 / Output bearing';
      const key = station.sensors[place]!;
      await open();
      await signIn(`/location/${station.places[place]}`);
      await page.getByText('Waiting for the next second').waitFor();
      await station.publishLive(liveOf(key, lastSecond() - 60_000));
      await page.getByRole('heading', { name: /^Stopped at \d\d:\d\d:\d\d/ }).waitFor();
      await station.publishLive(liveOf(key, lastSecond() + 60_000));
      await page.getByRole('heading', { name: 'Live', exact: true }).waitFor();
    });

    it('changes the axis by keyboard and holds the picture', async () => {
      const place = 'Bus 2 / Output bearing';
      const key = station.sensors[place]!;
      await station.publish(readingOf(key, lastSecond(), 1));
      await open();
      await signIn(`/location/${station.places[place]}`);
      await page.getByText('Waiting for the next second').waitFor();
      await station.publishLive(liveOf(key, lastSecond()));
      await page.getByRole('radio', { name: 'Z' }).focus();
      await page.keyboard.press('ArrowLeft');
      await page.getByText('Spectrum, Y').waitFor();
      await page.getByRole('button', { name: 'Hold' }).click();
      await page.getByRole('heading', { name: /^Held at/ }).waitFor();
      const held = await page.getByText(/Largest swing/).textContent();
      await station.publishLive(liveOf(key, lastSecond() + 1000, 1.5));
      await station.publish(readingOf(key, lastSecond() + 3000, 9.87));
      await page.getByText('9.87').first().waitFor();
      expect(await page.getByText(/Largest swing/).textContent()).toBe(held);
      await page.getByRole('button', { name: 'Hold' }).click();
      await page.getByRole('heading', { name: 'Live', exact: true }).waitFor();
      expect(await page.getByText(/Largest swing/).textContent()).not.toBe(held);
    });

    it('adds an asset with a location, mounts a sensor, and deletes the asset again', async () => {
      station.records.nodes.add('c1a00000000000ff', 'Spare board');
      await open(PHONE);
      await signIn('/assets');
      expect(await accessibilityViolations(page)).toEqual([]);
      await page.getByLabel('Name').fill('Bus 3');
      await page.getByRole('radio', { name: /Class III/ }).check();
      await page.getByRole('button', { name: 'Add' }).click();
      await heading('Bus 3');
      await page.getByRole('textbox', { name: 'Location' }).fill('Pinion bearing');
      await page.getByRole('textbox', { name: 'Component' }).fill('Rear axle');
      await page.getByRole('button', { name: 'Add location' }).click();
      const editor = page.getByRole('region', { name: 'Pinion bearing' });
      await editor.getByLabel('Sensor').selectOption({ label: 'Spare board' });
      await editor.getByRole('button', { name: 'Save' }).click();
      await editor.getByText('Saved.').waitFor();
      const added = station.records.assets.list().find(({ name }) => name === 'Bus 3')!;
      expect(added.machineClass).toBe('III');
      expect(station.records.mounts.current().map(({ nodeId }) => nodeId)).toContain('c1a00000000000ff');
      expect(await overhang()).toBe(0);
      expect(await accessibilityViolations(page)).toEqual([]);

      await page.getByRole('button', { name: 'Delete this asset' }).click();
      await page.getByRole('dialog').getByRole('button', { name: 'Delete' }).click();
      await heading('Assets');
      expect(station.records.assets.list().map(({ name }) => name)).not.toContain('Bus 3');
      expect(trouble).toEqual([]);
    });

    it('enrols a node, shows its password once, and revokes it', async () => {
      await open(PHONE);
      await signIn('/nodes');
      await page.getByLabel('Hardware id').fill('0xC1A0 0000 0000 00FF');
      await page.getByLabel('Label').fill('Spare board');
      await page.getByRole('button', { name: 'Enrol' }).click();
      await page.getByText('Flash these into the node now').waitFor();
      await page.getByText(/^[0-9a-f]{32}$/).waitFor();
      expect(await overhang()).toBe(0);
      expect(await accessibilityViolations(page)).toEqual([]);
      await page.getByRole('button', { name: 'Done, hide it' }).click();
      expect(await page.getByText(/^[0-9a-f]{32}$/).count()).toBe(0);
      const card = page.getByRole('listitem').filter({ hasText: 'Spare board' });
      await card.getByRole('button', { name: 'Revoke' }).click();
      await page.getByRole('dialog').getByRole('button', { name: 'Revoke' }).click();
      await card.waitFor({ state: 'detached' });
      expect(trouble).toEqual([]);
    });

    it('shows the cautions to anybody', async () => {
      await open(PHONE);
      await page.goto(`${station.url}/cautions`);
      await heading('Cautions');
      for (const text of [/clear of the ground/, /open differential/, /exhaust extraction/, /no headphones/])
        await page.getByText(text).waitFor();
      expect(await overhang()).toBe(0);
      expect(await accessibilityViolations(page)).toEqual([]);
    });

    it('takes nothing along after signing out', async () => {
      await open();
      await signIn();
      await page.getByRole('heading', { name: 'Bus 1' }).waitFor();
      await page.getByRole('button', { name: 'Sign out' }).click();
      await heading('Sign in');
      expect(await page.getByText('Bus 1').count()).toBe(0);
      await page.goBack().catch(() => {});
      expect(await page.getByText('Bus 1').count()).toBe(0);
    });
  });
});
