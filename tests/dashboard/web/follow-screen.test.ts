import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { journalOf } from '../../collector/capture/journal-of.ts';
import { accessibilityViolations, findBrowser, launchBrowser } from '../../support/browser.ts';
import { DRIVE_SECONDS, toldByVehicle, VARYING_TRAIN, varyingDrive } from '../../support/varying-drive.ts';
import { PERSON, startWebFixture, type WebFixture } from '../../support/web-fixture.ts';

const executable = findBrowser();
if (executable === null)
  console.warn('SKIPPED: no Chromium or Chrome found, so the screen of what a tone follows was not tested.');

const SCREENS = [
  ['a phone', { width: 390, height: 844 }, 'light'],
  ['a desk, dark', { width: 1280, height: 800 }, 'dark'],
] as const;
/** Where to put pictures for a person to look at; nowhere by default. */
const pictures = process.env['CLAMPLINE_TEST_PICTURES'];

describe.skipIf(executable === null)('what a tone follows, in Chromium', () => {
  let browser: Browser;
  let station: WebFixture;
  let runId: number;
  let untoldId: number;
  let removeJournal: () => Promise<void>;

  beforeAll(async () => {
    const startS = Math.floor(Date.now() / 1000) - 300;
    const journal = await journalOf(varyingDrive('c1a000000000000a', startS));
    removeJournal = journal.remove;
    station = await startWebFixture({ scenario: true, journalDir: journal.dir });
    const { runs, vehicleValues, driveTrains, assets } = station.records;
    const assetId = assets.list().find(({ name }) => name === 'Bus 1')!.id;
    const past = (fromS: number, toS: number) =>
      runs.addPast({ assetId, kind: 'road' }, PERSON.name, 1000 * fromS, 1000 * toS).id;
    runId = past(startS, startS + DRIVE_SECONDS);
    untoldId = past(startS + 80, startS + 120);
    vehicleValues.add(runId, toldByVehicle(startS));
    driveTrains.put(assetId, VARYING_TRAIN);
    browser = await launchBrowser(executable!);
  });
  afterAll(async () => {
    await browser?.close();
    await station?.close();
    await removeJournal?.();
  });

  it.each(SCREENS)('is told on the page of a run on %s', async (name, viewport, colorScheme) => {
    const context = await browser.newContext({ viewport, colorScheme });
    const page = await context.newPage();
    page.setDefaultTimeout(30_000);
    const trouble: string[] = [];
    page.on('pageerror', (error) => trouble.push(error.message));
    await page.goto(`${station.url}/runs/${runId}`);
    await page.getByLabel('Name').fill(PERSON.name);
    await page.getByLabel('Password').fill(PERSON.password);
    await page.getByRole('button', { name: 'Sign in' }).click();
    const panel = page.getByRole('region', { name: 'What does it follow?' });
    await panel.getByText('Told by the vehicle: engine speed, road speed.').waitFor();
    await panel
      .getByRole('combobox', { name: 'Tones at' })
      .selectOption({ label: 'Gearbox: Output bearing' });
    await panel.getByRole('button', { name: 'Follow the tones' }).click();
    await panel.getByText('3 tones stand out.').waitFor();
    await panel.getByText(/follows wheel .* Expected there: universal joint rear joint/).waitFor();
    await panel.getByText(/^120 Hz on average: follows no known speed/).waitFor();
    expect(await panel.locator('li').count()).toBe(3);
    expect(
      await page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth'),
    ).toBe(0);
    expect(await accessibilityViolations(page)).toEqual([]);
    if (pictures !== undefined) {
      mkdirSync(pictures, { recursive: true });
      await page.screenshot({ path: join(pictures, `follow-${name}.png`), fullPage: true });
    }
    // An answer is about what was asked: another part of the run takes it away.
    await panel.getByRole('combobox', { name: 'Tones at' }).selectOption({ index: 1 });
    await panel.getByText('3 tones stand out.').waitFor({ state: 'detached' });

    await page.goto(`${station.url}/runs/${untoldId}`);
    await page.getByText('The vehicle told no speed in this run.').waitFor();
    expect(trouble).toEqual([]);
    await context.close();
  });
});
