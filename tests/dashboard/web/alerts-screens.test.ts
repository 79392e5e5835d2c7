import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { accessibilityViolations, findBrowser, launchBrowser } from '../../support/browser.ts';
import { addPastWeeks, mountedForWeeks } from '../../support/past-weeks.ts';
import { PERSON, startWebFixture, type WebFixture } from '../../support/web-fixture.ts';
import { engineOn } from '../server/alerts/support.ts';

const executable = findBrowser();
if (executable === null)
  console.warn('SKIPPED: no Chromium or Chrome found, so the screens of alerts were not tested.');

const SCREENS = [
  ['a phone', { width: 390, height: 844 }, 'light'],
  ['a phone, dark', { width: 390, height: 844 }, 'dark'],
  ['a desk', { width: 1280, height: 800 }, 'light'],
] as const;
/** Where to put pictures for a person to look at; nowhere by default. */
const pictures = process.env['CLAMPLINE_TEST_PICTURES'];

describe.skipIf(executable === null)('screens of alerts in Chromium', () => {
  let browser: Browser;
  let station: WebFixture;

  beforeAll(async () => {
    station = await startWebFixture({ scenario: true, mountedMs: mountedForWeeks() });
    await addPastWeeks(station);
    const { records } = station;
    // A place where waiting is not weighed, whose trend is the same as at the gearbox.
    records.assets.changeLocation(station.places['Bus 2 / Output bearing']!, {
      name: 'Wheel bearing, rear left',
      component: 'Rear axle',
    });
    const engine = engineOn({ store: records, time: { now: Date.now, advance() {} } });
    await engine.settle();
    await engine.stop();
    browser = await launchBrowser(executable!);
  });
  afterAll(async () => {
    await browser?.close();
    await station?.close();
  });

  async function open(viewport: { width: number; height: number }, colorScheme: 'light' | 'dark') {
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
      const name = `${what}-${viewport.width}-${colorScheme}.png`;
      await page.screenshot({ path: join(pictures, name), fullPage: true });
    };
    return { page, enter, sound, close: () => context.close() };
  }

  it.each(SCREENS)('show on %s what is open, what it means and who is told', async (_, viewport, scheme) => {
    const { page, enter, sound, close } = await open(viewport, scheme);
    await enter('/');
    await page.getByRole('link', { name: /^Alerts\s*\d+ open/ }).waitFor();
    await page.getByText('Alert open').first().waitFor();
    await sound('alerts-levels');
    await page.getByRole('link', { name: /^Alerts/ }).click();
    await page
      .getByRole('heading', { name: /^Bus 2, Wheel bearing, rear left: .* RMS has risen to/ })
      .waitFor();
    await page.getByText(/^Do not put this off/).waitFor();
    await page
      .getByText(/(once in|once in a hundred) (\d+ )?years from a machine on which nothing has changed/)
      .first()
      .waitFor();
    await page.getByText('Nobody yet: alerts show on this page only.').waitFor();
    await page.getByText('No alert is over yet.').waitFor();
    await sound('alerts');
    await close();
  });

  it('take an acknowledgement with a note, and tell who else is to be told', async () => {
    const { page, enter, sound, close } = await open({ width: 390, height: 844 }, 'light');
    await enter('/alerts');
    const card = page.getByRole('listitem').filter({ hasText: 'Wheel bearing, rear left' });
    await card.getByRole('button', { name: /^Acknowledge/ }).click();
    await card.getByLabel('Note').fill('Ordered the bearing, bus stays in');
    await card.getByRole('button', { name: 'Acknowledge' }).click();
    await page.getByText(/^Acknowledged by Ines, .*: Ordered the bearing, bus stays in/).waitFor();

    await page.getByLabel('Webhook address').fill('https://192.168.1.5/alerts');
    await page.getByRole('button', { name: 'Add webhook' }).click();
    await page.getByText(/Alerts are not sent there: 192\.168\.1\.5 is not a public address/).waitFor();
    await page.getByLabel('Webhook address').fill('https://example.org/alerts');
    await page.getByRole('button', { name: 'Add webhook' }).click();
    await page.getByText(/Secret of the webhook, shown only now/).waitFor();
    await page.getByLabel('Mail address').fill('shop@example.org');
    await page.getByRole('button', { name: 'Add mail address' }).click();
    await page.getByText('This station has no mail server to send with.').waitFor();
    await page.getByLabel('Minutes, on a machine or during a run').fill('30');
    await page.getByRole('button', { name: 'Save' }).click();
    await page.getByText('Saved.').waitFor();
    await page.getByLabel(/^Messages name assets/).click();
    await vi.waitFor(() => expect(station.records.alertRecipients.settings().namesInMessages).toBe(false));
    expect(station.records.alertRecipients.settings().machineQuietMinutes).toBe(30);

    // It is over: the page hears of it by itself.
    const alert = station.records.alerts
      .list({ state: 'open', limit: 10 })
      .find(({ acknowledgedBy }) => acknowledgedBy === 'Ines')!;
    station.records.alerts.settle(alert.cause, [], Date.now(), 'no-longer-compared');
    await page.getByText(/there is nothing to compare with yet. Acknowledged by Ines/).waitFor();
    await sound('alerts-told');
    await close();
  });
});
