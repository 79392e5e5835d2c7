import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { accessibilityViolations, findBrowser, launchBrowser } from '../../support/browser.ts';
import { PERSON, startWebFixture, TECHNICIAN, type WebFixture } from '../../support/web-fixture.ts';

const executable = findBrowser();
if (executable === null)
  console.warn('SKIPPED: no Chromium or Chrome found, so the screen of people was not tested.');
const SHOTS = process.env['CLAMPLINE_SHOTS'];
const NEW = 'one more long sentence';

describe.skipIf(executable === null)('people, in Chromium', () => {
  let browser: Browser;
  let station: WebFixture;
  const contexts: BrowserContext[] = [];

  beforeAll(async () => {
    browser = await launchBrowser(executable!);
  });
  afterAll(() => browser?.close());
  beforeEach(async () => {
    station = await startWebFixture({ scenario: true });
  });
  afterEach(async () => {
    for (const context of contexts.splice(0)) await context.close();
    await station.close();
  });

  async function device(width: number, person: { name: string; password: string }): Promise<Page> {
    const context = await browser.newContext({ viewport: { width, height: 844 } });
    contexts.push(context);
    const page = await context.newPage();
    page.setDefaultTimeout(20_000);
    await page.goto(`${station.url}/people`);
    await page.getByLabel('Name').fill(person.name);
    await page.getByLabel('Password').fill(person.password);
    await page.getByRole('button', { name: 'Sign in' }).click();
    return page;
  }

  it('lets somebody in who then changes the first password, and signs a removed one out at once', async () => {
    const shop = await device(1280, PERSON);
    const letIn = shop.getByRole('region', { name: 'Let somebody in' });
    await letIn.getByLabel('Name').fill('Ada');
    await letIn.getByLabel('First password').fill('a first long password');
    await letIn.getByRole('button', { name: 'Let in' }).click();
    const row = shop.getByRole('listitem').filter({ hasText: 'Ada' });
    await row.getByText('technician, since').waitFor();
    expect(await accessibilityViolations(shop)).toEqual([]);
    if (SHOTS) await shop.screenshot({ path: `${SHOTS}/people.png`, fullPage: true });

    const phone = await device(390, { name: 'Ada', password: 'a first long password' });
    await phone.getByText('Somebody with the role shop lets others in.').waitFor();
    await phone.getByLabel('Present password').fill('not this one at all');
    await phone.getByLabel('New password').fill(NEW);
    await phone.getByRole('button', { name: 'Change it' }).click();
    await phone.getByText('The present password is wrong.').waitFor();
    await phone.getByLabel('Present password').fill('a first long password');
    await phone.getByRole('button', { name: 'Change it' }).click();
    await phone.getByText('Changed.').waitFor();
    expect(await accessibilityViolations(phone)).toEqual([]);
    if (SHOTS) await phone.screenshot({ path: `${SHOTS}/people-phone.png`, fullPage: true });
    expect(await station.records.people.verify('Ada', NEW)).not.toBeNull();

    await row.getByRole('button', { name: 'Remove' }).click();
    await shop.getByRole('dialog').getByRole('button', { name: 'Remove' }).click();
    await row.waitFor({ state: 'detached' });
    await phone.getByRole('button', { name: 'Sign in' }).waitFor();
  });

  it('gives another a new password and another role', async () => {
    const shop = await device(390, PERSON);
    const row = shop.getByRole('listitem').filter({ hasText: TECHNICIAN.name });
    await row.getByRole('button', { name: /New password/ }).click();
    await row
      .getByLabel(/New password/)
      .last()
      .fill(NEW);
    await row.getByRole('button', { name: 'Set it' }).click();
    await row.getByRole('button', { name: 'Set it' }).waitFor({ state: 'detached' });
    await row.getByRole('button', { name: /^Make .* shop$/ }).click();
    await row.getByText('shop, since').waitFor();
    expect(await station.records.people.verify(TECHNICIAN.name, NEW)).toMatchObject({ role: 'shop' });
    const overhang = 'document.documentElement.scrollWidth - document.documentElement.clientWidth';
    expect(await shop.evaluate(overhang)).toBe(0);
  });
});
