import { mkdirSync } from 'node:fs';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { accessibilityViolations, findBrowser, launchBrowser } from '../../support/browser.ts';
import { type RunWithPast, startRunWithPast } from '../../support/run-with-past.ts';
import { PERSON } from '../../support/web-fixture.ts';

const executable = findBrowser();
if (executable === null)
  console.warn('SKIPPED: no Chromium or Chrome found, so reports and the page for owners were not tested.');

const DESK = { width: 1280, height: 800 };
const PHONE = { width: 390, height: 844 };
const SCREENS = [
  ['a desk', DESK],
  ['a phone', PHONE],
] as const;
/** Where to put pictures for a person to look at; nowhere by default. */
const pictures = process.env['CLAMPLINE_TEST_PICTURES'];

describe.skipIf(executable === null)('reports and the page for owners in Chromium', () => {
  let browser: Browser;
  let past: RunWithPast;
  let folder: string;

  beforeAll(async () => {
    past = await startRunWithPast();
    folder = await mkdtemp(join(tmpdir(), 'clampline-report-test-'));
    browser = await launchBrowser(executable!);
  });
  afterAll(async () => {
    await browser?.close();
    await past?.close();
    await rm(folder, { recursive: true, force: true });
  });

  const enter = async (page: Page, path: string) => {
    page.setDefaultTimeout(60_000);
    await page.goto(`${past.station.url}${path}`);
    await page.getByLabel('Name', { exact: true }).fill(PERSON.name);
    await page.getByLabel('Password').fill(PERSON.password);
    await page.getByRole('button', { name: 'Sign in' }).click();
  };
  /** Fits the screen, is accessible, and has its picture taken. */
  const sound = async (page: Page, what: string) => {
    expect(
      await page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth'),
    ).toBe(0);
    expect(await accessibilityViolations(page)).toEqual([]);
    if (pictures === undefined) return;
    mkdirSync(pictures, { recursive: true });
    const height = Number(await page.evaluate('document.documentElement.scrollHeight'));
    const width = page.viewportSize()!.width;
    for (let y = 0, k = 0; y < height; y += 1600, k++) {
      const clip = { x: 0, y, width, height: Math.min(1600, height - y) };
      await page.screenshot({ path: join(pictures, `${what}-${width}-${k}.png`), fullPage: true, clip });
    }
  };

  it.each(SCREENS)(
    'a report is saved from a run and opens from the disk alone on %s',
    async (_name, viewport) => {
      const shop = await browser.newContext({ viewport, acceptDownloads: true });
      const page = await shop.newPage();
      await enter(page, `/runs/${past.runId}`);
      const waiting = page.waitForEvent('download');
      await page.getByRole('link', { name: 'Save it as a file' }).click();
      const download = await waiting;
      expect(download.suggestedFilename()).toBe(`report-run-${past.runId}.html`);
      const file = join(folder, `report-${viewport.width}.html`);
      await download.saveAs(file);
      await shop.close();

      const elsewhere = await browser.newContext({ viewport, offline: true });
      const report = await elsewhere.newPage();
      const requests: string[] = [];
      const trouble: string[] = [];
      report.on('request', (request) => void requests.push(request.url().slice(0, 60)));
      report.on('pageerror', (error) => void trouble.push(error.message));
      report.on('console', (message) => message.type() === 'error' && trouble.push(message.text()));
      await report.goto(pathToFileURL(file).href);
      await report
        .getByRole('heading', {
          level: 1,
          name: /^The noise most likely comes from the output bearing of the gearbox/,
        })
        .waitFor();
      for (const heading of [
        'Complaint',
        'Conditions',
        'Hear it',
        'See it',
        'Which part?',
        'Sensors',
        'Cautions',
      ])
        await report.getByRole('heading', { name: heading, exact: true }).waitFor();
      await report.getByRole('img', { name: /^Spectrogram of the output bearing/ }).waitFor();
      await report.getByRole('img', { name: /^\d+ runs of Gearbox, Output bearing/ }).waitFor();
      const images = await report.evaluate('[...document.images].map((image) => image.naturalWidth)');
      for (const width of images as number[]) expect(width).toBeGreaterThan(0);
      expect(requests.filter((url) => !url.startsWith('data:') && !url.startsWith('file:'))).toEqual([]);
      await sound(report, 'report');
      expect(trouble).toEqual([]);
      await elsewhere.close();
    },
  );

  it('its sounds play in the file, as long as they say', async () => {
    const context = await browser.newContext({ offline: true });
    const page = await context.newPage();
    await page.goto(pathToFileURL(join(folder, 'report-1280.html')).href);
    const played =
      (await page.evaluate(`Promise.all([...document.querySelectorAll('audio')].map(async (audio) => {
      audio.muted = true;
      await audio.play();
      await new Promise((done) => audio.addEventListener('ended', done));
      return { duration: audio.duration, at: audio.currentTime };
    }))`)) as { duration: number; at: number }[];
    expect(played.length).toBe(3);
    for (const { duration, at } of played) {
      expect(duration).toBeCloseTo(5, 2);
      expect(at).toBeCloseTo(5, 1);
    }
    await context.close();
  });

  it('nothing that a person typed as a name runs in it', async () => {
    const { records, url } = past.station;
    const { name } = records.assets.asset(past.assetId);
    records.assets.change(past.assetId, { name: '<script>ran = 1</script><img src=x onerror="ran = 1">' });
    const context = await browser.newContext();
    const page = await context.newPage();
    await enter(page, '/runs');
    await page.getByRole('link', { name: 'Start a run' }).waitFor();
    await page.goto(`${url}/api/runs/${past.runId}/report?include=names-and-times`);
    await page.getByText('<script>ran = 1</script>').waitFor();
    expect(await page.evaluate('typeof ran')).toBe('undefined');
    records.assets.change(past.assetId, { name });
    await context.close();
  });

  it('a PDF is made of it', async () => {
    const context = await browser.newContext({ acceptDownloads: true });
    const page = await context.newPage();
    await enter(page, `/assets/${past.assetId}`);
    const waiting = page.waitForEvent('download');
    await page.getByRole('button', { name: 'Save it as PDF' }).click();
    const download = await waiting;
    expect(download.suggestedFilename()).toBe(`report-asset-${past.assetId}.pdf`);
    const file = join(pictures ?? folder, 'report.pdf');
    await download.saveAs(file);
    const pdf = await readFile(file);
    expect(pdf.subarray(0, 5).toString('latin1')).toBe('%PDF-');
    expect(pdf.toString('latin1').match(/\/Type \/Page\b/g)!.length).toBeGreaterThan(2);
    await context.close();
  });

  it('an owner opens a link on a phone until the shop revokes it', async () => {
    const shop = await browser.newContext({ viewport: DESK });
    const page = await shop.newPage();
    await enter(page, `/assets/${past.assetId}`);
    await page.getByText('No link has been made.').waitFor();
    await page.getByRole('button', { name: 'Make a link' }).click();
    const link = (await page.locator('.made-link code').textContent())!;
    expect(link).toMatch(/^http:\/\/127\.0\.0\.1:\d+\/owner#\d+\.[\w-]{43}$/);
    await sound(page, 'asset-with-link');

    for (const [scheme, viewport] of [
      ['light', PHONE],
      ['dark', PHONE],
      ['light', DESK],
    ] as const) {
      const phone = await browser.newContext({ viewport, colorScheme: scheme });
      const owner = await phone.newPage();
      const requests: { url: string; cookie: boolean }[] = [];
      owner.on('request', (request) =>
        requests.push({ url: request.url(), cookie: 'cookie' in request.headers() }),
      );
      await owner.goto(link);
      await owner.getByText('Yes, it is getting worse at the output bearing of the gearbox.').waitFor();
      await owner
        .getByText(/is \d+ ± \d+\s% stronger than normal/)
        .first()
        .waitFor();
      await owner.getByRole('heading', { name: 'What to do next' }).waitFor();
      // The token stays behind the #: no address that was asked for holds it.
      for (const { url, cookie } of requests) {
        expect(url).not.toContain(link.split('#')[1]);
        expect(cookie).toBe(false);
      }
      await sound(owner, `owner-${scheme}`);
      await phone.close();
    }
    const { records, places } = past.station;
    const gearbox = records.assets.location(places['Bus 2 / Output bearing']!);
    records.assets.changeLocation(gearbox.id, { name: 'Left wheel bearing', component: 'Rear axle' });
    const warned = await browser.newContext({ viewport: PHONE });
    const first = await warned.newPage();
    await first.goto(link);
    await first.getByRole('heading', { name: 'Safety first' }).waitFor();
    await first.getByText(/have it inspected by a licensed technician/).waitFor();
    await sound(first, 'owner-safety');
    await warned.close();
    records.assets.changeLocation(gearbox.id, { name: gearbox.name, component: gearbox.component });

    await page.reload();
    await page.getByText(/valid until .*; opened 4 times, last on/).waitFor();
    await page.getByRole('button', { name: 'Revoke' }).click();
    await page.getByRole('dialog').getByRole('button', { name: 'Revoke' }).click();
    await page.getByText(/revoked on/).waitFor();

    const late = await browser.newContext({ viewport: PHONE });
    const owner = await late.newPage();
    await owner.goto(link);
    await owner.getByRole('heading', { name: 'This link is not valid, or not valid any more.' }).waitFor();
    await owner.getByText('Ask the workshop for a new one.').waitFor();
    await sound(owner, 'owner-refused');
    await late.close();
    await shop.close();
  });
});
