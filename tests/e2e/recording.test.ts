import { execFile } from 'node:child_process';
import { existsSync } from 'node:fs';
import { promisify } from 'node:util';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { FileMeasurement } from '../../collector/index.ts';
import { accessibilityViolations, findBrowser, launchBrowser } from '../support/browser.ts';
import { SKIPPED, sharedPath } from '../support/shared-data.ts';
import { cli, type RunningStation, runStation } from '../support/station.ts';
import { PERSON } from '../support/station-client.ts';

/** Drive-end bearing with an inner race fault, 12 kHz, three channels, +-5 g: see the data set's own README. */
const RECORDING = sharedPath('open-data', 'cwru', '105-inner007-0hp.wav');
const browserPath = findBrowser();
const reason = browserPath === null ? 'skipped: no Chromium or Chrome found' : SKIPPED;

describe.skipIf(browserPath === null || !existsSync(RECORDING))(
  `a recording on the page (else ${reason})`,
  () => {
    let scale: { fullScale: number; unit: string };
    let station: RunningStation;
    let browser: Browser;
    let page: Page;
    const complaints: string[] = [];

    beforeAll(async () => {
      const { recordings } = await import(sharedPath('open-data', 'index.json'), {
        with: { type: 'json' },
      }).then((module) => module.default);
      scale = recordings.find((entry: { file: string }) => RECORDING.endsWith(entry.file));
      const options = ['--full-scale', String(scale.fullScale), '--unit', scale.unit];
      station = await runStation(['--replay', RECORDING, ...options, '--replay-speed', '1']);
      browser = await launchBrowser(browserPath!);
      page = await (await browser.newContext()).newPage();
      page.on('pageerror', (error) => complaints.push(error.message));
      page.on('console', (message) => message.type() === 'error' && complaints.push(message.text()));
    }, 60_000);

    afterAll(async () => {
      await browser?.close();
      await station?.close();
    });

    it('is set up through the one-time link and shows live levels', async () => {
      await page.goto(station.setupUrl!);
      await page.getByLabel('Name').fill(PERSON.name);
      for (const field of await page.locator('input[type=password]').all()) await field.fill(PERSON.password);
      await page.locator('button[type=submit]').click();
      await page.getByText('Channel 1').first().waitFor();
      await page.locator('main a[href^="/location/"]').first().waitFor();
    });

    it('shows the number that `measure` gives for the same seconds', async () => {
      const output = await promisify(execFile)(
        process.execPath,
        [cli, 'measure', RECORDING, '--full-scale', String(scale.fullScale), '--unit', scale.unit, '--json'],
        { maxBuffer: 64 * 1024 ** 2 },
      );
      const { channels } = JSON.parse(output.stdout) as FileMeasurement;
      const values = channels[0]!.blocks.map((block) => block.velocityRmsMmPerS).filter((v) => v !== null);
      const [lowest, highest] = [Math.min(...values), Math.max(...values)];

      const row = page.locator('main a[href^="/location/"]').first();
      const shown = async () => Number((await row.textContent())?.match(/([\d.]+)\s*mm\/s/)?.[1]);
      await expect.poll(shown, { timeout: 20_000 }).toBeGreaterThan(0);
      // The page's second need not begin where the file's does: the number lies within what the blocks span,
      // give or take the rounding to three digits and the scatter of a shifted second.
      const number = await shown();
      expect(number).toBeGreaterThan(lowest * 0.97);
      expect(number).toBeLessThan(highest * 1.03);
    });

    it('shows waveform and spectrum of a location, and breaks no accessibility rule', async () => {
      await page.locator('main a[href^="/location/"]').first().click();
      await expect.poll(() => page.locator('canvas').count(), { timeout: 20_000 }).toBeGreaterThanOrEqual(2);
      await expect.poll(() => page.getByText(/Highest line at/).count(), { timeout: 20_000 }).toBe(1);
      expect(await accessibilityViolations(page)).toEqual([]);
    });

    it('says when data stops coming', async () => {
      await page.goto(station.pageUrl);
      await page
        .getByText(/no data since/i)
        .first()
        .waitFor({ timeout: 60_000 });
    }, 90_000);

    it('logged no error in the browser', () => {
      expect(complaints).toEqual([]);
    });
  },
);
