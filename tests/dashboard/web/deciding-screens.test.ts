import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { findBrowser, launchBrowser } from '../../support/browser.ts';
import { addPastWeeks, mountedForWeeks } from '../../support/past-weeks.ts';
import { openScreen, SCREENS } from '../../support/screen.ts';
import { startWebFixture, type WebFixture } from '../../support/web-fixture.ts';

const executable = findBrowser();
if (executable === null)
  console.warn('SKIPPED: no Chromium or Chrome found, so the screens of repairs put off were not tested.');

const DAY_MS = 86_400_000;
const PLACE = 'Bus 2 / Output bearing';

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

  it.each(SCREENS)('agree on a watch plan with what the trend suggests, on %s', async (...screen) => {
    const { page, enter, isSound, close } = await openScreen(browser, station.url, screen);
    await enter(`/location/${station.places[PLACE]}`);
    await page.getByRole('link', { name: 'Watch plan' }).click();
    await page.getByRole('heading', { name: 'A new plan' }).waitFor();
    await page.getByText(/^Suggested: \d+\. .*Output bearing/).waitFor();
    await page.getByLabel('50-60 km/h').check();
    await page.getByLabel('In your own words').fill('Hum can be heard on the rear seat\nOil at the flange');
    await page.getByLabel('Who is told').fill('Ines, by phone');
    await page.getByLabel('Agreed by').fill('Depot head and Ines');
    await page.getByLabel('Stop at so many times the baseline').first().fill('2.2');
    await isSound('watch-new');
    await page.getByRole('button', { name: 'Begin this plan' }).click();
    await page.getByText('Begun: see above.').waitFor();
    await page.getByText(/^velocity RMS at Output bearing: stop at 2.20 times its baseline/).waitFor();
    await page.getByText('Hum can be heard on the rear seat').first().waitFor();
    await isSound('watch-open');
    await close();
  });

  it('says on the list of levels by how many days a measurement is overdue', async () => {
    const { page, enter, isSound, close } = await openScreen(browser, station.url, SCREENS[0]);
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
    await isSound('watch-overdue');
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
    const { page, enter, isSound, close } = await openScreen(browser, station.url, SCREENS[0]);
    const place = station.places['Bus 1 / Left wheel bearing'];
    await enter(`/assets/${assetOf('Bus 1 / Left wheel bearing')}/watch?location=${place}`);
    await page.getByText(/^Do not put this off\./).waitFor();
    await isSound('watch-wheel-bearing');
    await close();
  });

  /** Enters a figure: most likely alone, or least, most likely and most. */
  async function enterFigure(page: Page, section: string, label: string, ...figures: string[]) {
    const box = page.getByRole('region', { name: section }).getByRole('group', { name: label });
    const ends = figures.length === 1 ? ['Most likely'] : ['Least', 'Most likely', 'Most'];
    for (const [i, end] of ends.entries()) await box.getByLabel(end, { exact: true }).fill(figures[i]!);
  }

  async function enterFigures(page: Page) {
    await page.getByLabel('Currency').fill('crowns');
    await page.getByLabel('Kept for, months').fill('36');
    await page.getByLabel('Use a year, km').fill('40000');
    const common = (label: string, ...figures: string[]) =>
      enterFigure(page, 'Your figures', label, ...figures);
    await common('An hour of labour', '600');
    await common('What a breakdown on the road costs besides the repair', '6000', '9000', '15000');
    await common('The repair after a breakdown', '20000');
    await common('The repair when it becomes due later', '12000');
    for (const [name, parts, chance] of [
      ['Repair now', '8000', '4'],
      ['Fit a used part', '3000', '20'],
    ] as const) {
      await enterFigure(page, name, 'Parts', parts);
      await enterFigure(page, name, 'Hours of labour', '5');
      await enterFigure(page, name, 'Other costs of doing it', '1000');
      await enterFigure(page, name, 'Chance of a breakdown', chance);
    }
    const repair = page.getByRole('region', { name: 'Repair now' });
    await repair.getByLabel('Guarantee, months').fill('24');
    await repair.getByLabel('Guarantee, km at most').fill('60000');
    await enterFigure(page, 'Keep driving and watch', 'Chance of a breakdown', '10', '30', '50');
    await enterFigure(page, 'Keep driving and watch', 'Chance that the repair becomes due later', '25');
    await page.getByRole('button', { name: 'What does each cost?' }).click();
  }

  it.each(SCREENS)('weigh the options by one’s own figures on %s', async (...screen) => {
    const { page, enter, isSound, close } = await openScreen(browser, station.url, screen);
    await enter(`/location/${station.places['Bus 2 / Pinion bearing']}`);
    await page.getByRole('link', { name: 'Decide' }).click();
    await page.getByText(/^The chance of a breakdown: no vibration level gives one/).waitFor();
    await enterFigures(page);
    // The example worked by hand in the tests of the server.
    const row = page.getByRole('row', { name: /^Keep driving and watch/ });
    await row.getByText('11,700').waitFor();
    await row.getByText('5,600 to 20,500').waitFor();
    await page
      .getByText(/while the chance of a breakdown within 36 months is below 34 %/)
      .first()
      .waitFor();
    await page.getByRole('radio', { name: 'Keep driving and watch' }).check();
    await page.getByLabel('Decided by').fill('Depot head');
    await isSound('decide');
    await page.getByRole('button', { name: 'Keep this decision' }).click();
    await page.getByText('The decision is kept.').waitFor();
    await page
      .getByText(/decided by Depot head \(entered by Ines\)/)
      .first()
      .waitFor();
    await close();
  });

  it('say first that a wheel bearing is not to be weighed, and keep who refuses that', async () => {
    const { page, enter, isSound, close } = await openScreen(browser, station.url, SCREENS[0]);
    const place = station.places['Bus 1 / Left wheel bearing'];
    await enter(`/assets/${assetOf('Bus 1 / Left wheel bearing')}/decide?location=${place}`);
    await page.getByRole('heading', { name: 'Safety first' }).waitFor();
    const order = await page.evaluate(
      `[...document.querySelectorAll('h2')].map((heading) => heading.textContent).slice(0, 3)`,
    );
    expect(order).toEqual(['Safety first', 'What the measurements say', 'Your figures']);
    await enterFigures(page);
    await page.getByRole('radio', { name: 'Keep driving and watch' }).check();
    await page.getByRole('heading', { name: 'This goes against the safety advice' }).waitFor();
    await page.getByLabel('Decided by').fill('Kim Owner');
    await page.getByLabel('I have read this and refuse it: name').fill('Kim Owner');
    await isSound('decide-refusal');
    await page.getByRole('button', { name: 'Keep this decision' }).click();
    await page.getByText(/^Kim Owner refused this advice on .*: “Do not put this off\./).waitFor();
    const [kept] = station.records.decisions.list(assetOf('Bus 1 / Left wheel bearing'));
    expect(kept!.refusal).toMatchObject({
      name: 'Kim Owner',
      textShown: expect.stringMatching(/licensed technician\.$/),
    });
    await close();
  });

  it.each(SCREENS)('verify a repair against a criterion stated before it, on %s', async (...screen) => {
    const { page, enter, isSound, close } = await openScreen(browser, station.url, screen);
    const { records, places } = station;
    const assetId = assetOf('Bus 2 / Pinion bearing');
    await enter(`/assets/${assetId}/repair?location=${places['Bus 2 / Output bearing']}`);
    await page.getByLabel('Lower by at least, dB').fill('3');
    await page.getByLabel('Stated by').fill('Depot head');
    await page.getByRole('button', { name: 'State it' }).click();
    const card = page.getByRole('article').first();
    await card
      .locator('p strong', { hasText: 'Cannot say yet: the repair has not been noted yet.' })
      .waitFor();
    const [check] = records.repairChecks.list(assetId);
    expect(check).toMatchObject({ leastFallDb: 3, locationId: places['Bus 2 / Output bearing'] });
    // Wear grows on: noted forty days back, the level is higher after than before.
    const at = new Date(Date.now() - 40 * DAY_MS);
    const two = (n: number) => String(n).padStart(2, '0');
    const typed = `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}T12:00`;
    await card.getByLabel('Repaired when').fill(typed);
    await card.getByLabel('What was done').fill('Output bearing replaced');
    await card.getByRole('button', { name: 'Note the repair' }).click();
    await card
      .locator('p strong', {
        hasText: /^Higher by \d\.\d ± \d\.\d dB in matched conditions .*: not passed/,
      })
      .waitFor();
    await card.getByText('Choose the runs').click();
    await isSound('repair-verify');
    await card.getByRole('group', { name: 'After' }).getByRole('checkbox').first().uncheck();
    await card.getByRole('button', { name: 'Compare these' }).click();
    await card.locator('p strong', { hasText: /runs chosen by hand: not passed/ }).waitFor();
    await card.getByRole('button', { name: 'Conclude', exact: true }).click();
    await page.getByRole('dialog').getByRole('button', { name: 'Conclude' }).click();
    await card.getByText(/^Concluded on .* by Ines\.$/).waitFor();
    for (const { id } of records.assetEvents.list(assetId)) records.assetEvents.remove(assetId, id);
    await close();
  });

  it.each(SCREENS)('keep a strip-down log with its tally on %s', async (...screen) => {
    const { page, enter, isSound, close } = await openScreen(browser, station.url, screen);
    const place = station.places['Extraction fan / Drive end']!;
    const assetId = assetOf('Extraction fan / Drive end');
    station.records.findings.add(
      {
        locationId: place,
        atMs: Date.now() - DAY_MS,
        startMs: Date.now() - DAY_MS,
        durationS: 10,
        sampleRateHz: 6400,
        ...station.sensors['Extraction fan / Drive end']!,
        by: null,
        axis: 'x',
        speedRpm: 1450,
        speedSource: 'nominal',
        shaft: 'motor',
        bearing: '6205',
        verdict: 'outer',
        reason: '',
        findings: [],
      },
      '<svg xmlns="http://www.w3.org/2000/svg"/>',
    );
    await enter(`/assets/${assetId}/opened?location=${place}`);
    await page.getByLabel('Which part').fill('Drive end bearing');
    await page.getByRole('checkbox', { name: 'Outer race' }).check();
    await page.getByLabel('Condition in words').fill('One spall of 4 mm in the load zone');
    await page.getByLabel('Opened by').fill('Jo');
    await page.getByRole('button', { name: 'Write it down' }).click();
    await page
      .getByRole('heading', { name: /^Drive end bearing, .*: Right$/ })
      .first()
      .waitFor();
    await page.getByText(/^\d of \d claims were right: too few to speak of a share/).waitFor();
    await isSound('strip-down');
    await close();
  });
});
