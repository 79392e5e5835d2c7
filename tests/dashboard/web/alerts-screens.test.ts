import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { findBrowser, launchBrowser } from '../../support/browser.ts';
import { addPastWeeks, mountedForWeeks } from '../../support/past-weeks.ts';
import { openScreen, SCREENS } from '../../support/screen.ts';
import { startWebFixture, type WebFixture } from '../../support/web-fixture.ts';
import { engineOn } from '../server/alerts/support.ts';

const executable = findBrowser();
if (executable === null)
  console.warn('SKIPPED: no Chromium or Chrome found, so the screens of alerts were not tested.');

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

  it.each(SCREENS)('show on %s what is open, what it means and who is told', async (...screen) => {
    const { page, enter, isSound, close } = await openScreen(browser, station.url, screen);
    await enter('/');
    await page.getByRole('link', { name: /^Alerts\s*\d+ open/ }).waitFor();
    await page.getByText('Alert open').first().waitFor();
    await isSound('alerts-levels');
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
    await isSound('alerts');
    await close();
  });

  it('take an acknowledgement with a note, and tell who else is to be told', async () => {
    const { page, enter, isSound, close } = await openScreen(browser, station.url, SCREENS[0]);
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
    await isSound('alerts-told');
    await close();
  });
});
