import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { transformWithOxc } from 'vite';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { gaussian } from '../../dashboard/virtual/synth/random.ts';
import { accessibilityViolations, findBrowser, launchBrowser } from '../support/browser.ts';
import { projectRoot, type RunningStation, runStation } from '../support/station.ts';
import { PERSON } from '../support/station-client.ts';
import { encodeSamples, wavBytes } from '../support/wav-bytes.ts';

const RATE_HZ = 3200;
const SECONDS = 240;
const FULL_SCALE_M_PER_S2 = 40;
/** The noise comes for 12 s and goes for 16 s, again and again. */
const PERIOD_S = 28;
const noisy = (s: number) => s % PERIOD_S >= 16;

/**
 * Three places: the noise (random, all frequencies) is made at channel 1 and reaches 2 and 3 weaker, by 12 and 14 dB; each
 * has its own background, and channel 1 a tone of 200 Hz besides.
 */
function recording(): Buffer {
  const source = gaussian(11);
  const background = gaussian(12);
  const count = SECONDS * RATE_HZ;
  const frames = new Float64Array(3 * count);
  for (let k = 0; k < count; k++) {
    const noise = noisy(k / RATE_HZ) ? source() : 0;
    const tone = 0.4 * Math.sin((2 * Math.PI * 200 * k) / RATE_HZ);
    const values = [2 * noise + tone, 0.5 * noise, 0.4 * noise];
    for (const [c, value] of values.entries())
      frames[3 * k + c] = (value + 0.1 * background()) / FULL_SCALE_M_PER_S2;
  }
  return wavBytes(encodeSamples(frames, 16), { sampleRateHz: RATE_HZ, channelCount: 3 });
}

// What the browser has and this side of the test does not know.
// biome-ignore lint/suspicious/noExplicitAny: the browser's own types belong to the page
declare const OfflineAudioContext: any;
// biome-ignore lint/suspicious/noExplicitAny: put there by the test itself
declare const soundGraph: any;
interface Decoded {
  getChannelData(channel: number): Float32Array;
}

const browserPath = findBrowser();

describe.skipIf(browserPath === null)(
  'a whole run, two phones at once (else skipped: no Chromium found)',
  () => {
    let folder: string;
    let station: RunningStation;
    let browser: Browser;
    let contexts: BrowserContext[] = [];
    let one: Page;
    let two: Page;
    const complaints: string[] = [];

    beforeAll(async () => {
      folder = await mkdtemp(join(tmpdir(), 'clampline-run-'));
      const file = join(folder, 'bus.wav');
      await writeFile(file, recording());
      station = await runStation([
        '--replay',
        file,
        '--full-scale',
        String(FULL_SCALE_M_PER_S2),
        '--unit',
        'm/s2',
      ]);
      browser = await launchBrowser(browserPath!);
      const phone = { viewport: { width: 390, height: 844 }, hasTouch: true };
      contexts = [await browser.newContext(phone)];
      one = await contexts[0]!.newPage();
      await one.goto(station.setupUrl!);
      await one.getByLabel('Name').fill(PERSON.name);
      for (const field of await one.locator('input[type=password]').all()) await field.fill(PERSON.password);
      await one.locator('button[type=submit]').click();
      await one.getByText('Channel 1').first().waitFor();
      contexts.push(await browser.newContext({ ...phone, storageState: await contexts[0]!.storageState() }));
      two = await contexts[1]!.newPage();
      for (const page of [one, two]) {
        page.on('pageerror', (error) => complaints.push(error.message));
        page.on('console', (message) => message.type() === 'error' && complaints.push(message.text()));
      }
    }, 120_000);

    afterAll(async () => {
      await browser?.close();
      await station?.close();
      await rm(folder, { recursive: true, force: true });
    });

    const levelOn = (page: Page) => async () =>
      Number(await page.locator('.run-level', { hasText: 'Channel 1' }).locator('.number').textContent());
    const settled = { timeout: 90_000, interval: 200 };

    it('is started on one phone and seen on the other', async () => {
      await one.goto(`${station.pageUrl}/runs`);
      await one.getByRole('link', { name: 'Start a run' }).click();
      await one.getByLabel('Bench or in place').check({ force: true });
      await one.getByText(/Parking brake on/).waitFor();
      await one.getByRole('button', { name: 'Start the run' }).click();
      await one.getByRole('button', { name: /Noise now/ }).waitFor();
      await two.goto(`${station.pageUrl}/runs`);
      await two.getByText('under way').waitFor();
      await two.locator('main .cards a').first().click();
      await two.getByRole('button', { name: /Noise now/ }).waitFor();
      for (const page of [one, two]) expect(await accessibilityViolations(page)).toEqual([]);
    }, 120_000);

    it('is marked on one while the noise lasts, by space bar on the other, and both show both', async () => {
      // First a quiet time to compare with, then the noise.
      await expect.poll(levelOn(one), settled).toBeLessThan(0.6);
      await one.waitForTimeout(9_000);
      await expect.poll(levelOn(one), settled).toBeGreaterThan(1);
      const box = (await one.getByRole('button', { name: /Noise now/ }).boundingBox())!;
      await one.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
      await one.mouse.down();
      await one.getByText('Marking…').waitFor();
      await expect.poll(levelOn(one), settled).toBeLessThan(0.6);
      await one.mouse.up();
      await two.getByText(/1 mark; newest .* held \d+ s, button, Ada/).waitFor();
      await two.keyboard.press(' ');
      await one.getByText(/2 marks; newest .* space bar/).waitFor();
      // That one was to show it; it lies in no noise.
      await one.getByRole('button', { name: 'Remove newest mark' }).click();
      await two.getByText(/1 mark; newest/).waitFor();
    }, 240_000);

    it('guides through a manoeuvre and asks whether the noise was there', async () => {
      await one.getByRole('button', { name: /Engine speed up at rest/ }).click();
      await two.getByText('Now: Engine speed up at rest').waitFor();
      await two.getByRole('button', { name: 'Done' }).click();
      await one.getByText('Engine speed up at rest: was the noise there?').waitFor();
      await one.getByLabel('Yes').check({ force: true });
      await one.getByRole('button', { name: 'End the run' }).click();
      await one.getByRole('button', { name: 'End it' }).click();
      for (const page of [one, two]) await page.getByRole('heading', { name: /^Run of Recording/ }).waitFor();
    }, 60_000);

    it('comes to a verdict that names the source with its support, on both phones', async () => {
      await one.getByRole('button', { name: 'Compare the locations' }).click();
      for (const page of [one, two]) {
        const sentence = page.locator('.sentence');
        await sentence.waitFor({ timeout: 90_000 });
        // 20 log (2 / 0.5) = 12.0 dB over channel 2.
        expect(await sentence.textContent()).toMatch(
          /^Channel 1 of the recording leads at \d+-\d+ Hz by 1[123]\.\d ± \d\.\d dB in \d+ of \d+ windows; what the channel 2 of the recording shows there is coherent with it/,
        );
      }
      await one.getByText(/With the noise the channel 1 of the recording rises most/).waitFor();
      await one.locator('canvas').first().waitFor();
      expect(await accessibilityViolations(one)).toEqual([]);
      expect(await accessibilityViolations(two)).toEqual([]);
    }, 180_000);

    it('is heard: equally loud at each location, in step, slowed, and never beyond the limit', async () => {
      await one.getByRole('button', { name: 'Play', exact: true }).click();
      await one.getByText(/^Playing Channel 1/).waitFor({ timeout: 60_000 });
      await one.getByRole('radio', { name: 'Channel 2' }).check({ force: true });
      await one.getByText(/^Playing Channel 2/).waitFor();
      await one.getByRole('button', { name: 'Stop', exact: true }).click();

      // The same graph and the same sounds, rendered to samples instead of a loudspeaker.
      const source = await readFile(join(projectRoot, 'dashboard/web/audio/sound-graph.ts'), 'utf8');
      const { code } = await transformWithOxc(source, 'sound-graph.ts');
      const run = await (await one.request.get(`${station.pageUrl}/api/runs/1`)).json();
      const mark = run.marks[0];
      const sounds: { id: number; wav: number[]; fullScale: number }[] = [];
      for (const { id } of run.locations) {
        const query = `locationId=${id}&fromMs=${mark.atMs}&toMs=${mark.atMs + 4000}`;
        const answer = await one.request.get(`${station.pageUrl}/api/runs/1/sound?${query}`);
        expect(answer.status()).toBe(200);
        const fullScale = Number(answer.headers()['clampline-full-scale-m-per-s2']);
        sounds.push({ id, wav: [...(await answer.body())], fullScale });
      }
      const lab = await contexts[0]!.newPage();
      await lab.setContent('<p>empty</p>');
      const plainScript = code.replaceAll(/^export /gm, '');
      await lab.addScriptTag({
        content: `${plainScript}\nglobalThis.soundGraph = { buildSoundGraph, LIMIT };`,
      });
      const levels = await lab.evaluate(
        async ({ sounds }) => {
          const { buildSoundGraph, LIMIT } = soundGraph;
          const decoder = new OfflineAudioContext(1, 1, 24_000);
          const playable: {
            locationId: number;
            buffer: Decoded;
            rms: number;
            fullScaleMPerS2: number;
          }[] = [];
          for (const { id, wav, fullScale } of sounds) {
            const buffer = await decoder.decodeAudioData(new Uint8Array(wav).buffer);
            const data: Float32Array = buffer.getChannelData(0);
            const rms = Math.sqrt(data.reduce((sum, v) => sum + v * v, 0) / data.length);
            playable.push({ locationId: id, buffer, rms, fullScaleMPerS2: fullScale });
          }
          async function render(id: number, matched: boolean, volume: number, speed: number) {
            const context = new OfflineAudioContext(1, 48_000, 24_000);
            const graph = buildSoundGraph(context, playable);
            graph.setVolume(volume);
            graph.match(matched, 0);
            graph.select(id, 0);
            graph.start(0, { speed, loop: true });
            const data: Float32Array = (await context.startRendering()).getChannelData(0).slice(12_000);
            const tone = (hz: number) => {
              let [re, im] = [0, 0];
              data.forEach((v, k) => {
                re += v * Math.cos((2 * Math.PI * hz * k) / 24_000);
                im += v * Math.sin((2 * Math.PI * hz * k) / 24_000);
              });
              return (2 * Math.hypot(re, im)) / data.length;
            };
            return {
              rms: Math.sqrt(data.reduce((sum, v) => sum + v * v, 0) / data.length),
              peak: data.reduce((most, v) => Math.max(most, Math.abs(v)), 0),
              at100: tone(100),
              at200: tone(200),
            };
          }
          const ids = playable.map(({ locationId }) => locationId);
          const each = async (matched: boolean, volume: number) =>
            Promise.all(ids.map((id) => render(id, matched, volume, 1)));
          return {
            limit: LIMIT,
            matched: await each(true, 0.5),
            asMeasured: await each(false, 0.5),
            loud: await each(true, 1),
            slowed: await render(ids[0]!, true, 0.5, 0.5),
          };
        },
        { sounds },
      );
      const db = (a: number, b: number) => 20 * Math.log10(a / b);
      const [m1, m2, m3] = levels.matched;
      for (const other of [m2!, m3!]) expect(Math.abs(db(m1!.rms, other.rms))).toBeLessThan(1);
      expect(m1!.rms).toBeCloseTo(0.05, 2);
      const [a1, a2, a3] = levels.asMeasured;
      // Beside 2 m/s² of noise: 0.1 of background, and 0.28 of tone at the first.
      expect(
        Math.abs(db(a1!.rms, a2!.rms) - db(Math.hypot(2, 0.28, 0.1), Math.hypot(0.5, 0.1))),
      ).toBeLessThan(1);
      expect(
        Math.abs(db(a1!.rms, a3!.rms) - db(Math.hypot(2, 0.28, 0.1), Math.hypot(0.4, 0.1))),
      ).toBeLessThan(1);
      for (const { peak } of [...levels.matched, ...levels.asMeasured, ...levels.loud]) {
        expect(peak).toBeLessThanOrEqual(levels.limit + 1e-3);
      }
      // The tone of 200 Hz stands at 100 Hz at half the speed.
      expect(m1!.at200).toBeGreaterThan(3 * m1!.at100);
      // As strong as it was; at 200 Hz stands the noise of 400 Hz then, which is chance in a single line.
      expect(Math.abs(db(levels.slowed.at100, m1!.at200))).toBeLessThan(3);
      await lab.close();
    }, 180_000);

    it('logged no error in the browsers', () => {
      expect(
        complaints.filter((text) => !/Content Security Policy|data:text\/javascript/.test(text)),
      ).toEqual([]);
    });
  },
);
