import type { Browser } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it, onTestFinished } from 'vitest';
import { findBrowser, launchBrowser } from '../../support/browser.ts';
import { openScreen, SCREENS } from '../../support/screen.ts';
import { PERSON, startWebFixture, TECHNICIAN, type WebFixture } from '../../support/web-fixture.ts';

const executable = findBrowser();
if (executable === null)
  console.warn('SKIPPED: no Chromium or Chrome found, so the screen of people was not tested.');
const NEW = 'one more long sentence';

describe.skipIf(executable === null)('people, in Chromium', () => {
  let browser: Browser;
  let station: WebFixture;

  beforeAll(async () => {
    browser = await launchBrowser(executable!);
  });
  afterAll(() => browser?.close());
  beforeEach(async () => {
    station = await startWebFixture({ scenario: true });
  });
  afterEach(async () => {
    await station.close();
  });

  async function device(screen: (typeof SCREENS)[number], person: { name: string; password: string }) {
    const opened = await openScreen(browser, station.url, screen);
    onTestFinished(() => opened.close());
    await opened.enter('/people', person);
    return opened;
  }

  it('lets somebody in who then changes the first password, and signs a removed one out at once', async () => {
    const { page: shop, isSound } = await device(SCREENS[2], PERSON);
    const letIn = shop.getByRole('region', { name: 'Let somebody in' });
    await letIn.getByLabel('Name').fill('Ada');
    await letIn.getByLabel('First password').fill('a first long password');
    await letIn.getByRole('button', { name: 'Let in' }).click();
    const row = shop.getByRole('listitem').filter({ hasText: 'Ada' });
    await row.getByText('technician, since').waitFor();
    await isSound('people');

    const own = await device(SCREENS[0], { name: 'Ada', password: 'a first long password' });
    const phone = own.page;
    await phone.getByText('Somebody with the role shop lets others in.').waitFor();
    await phone.getByLabel('Present password').fill('not this one at all');
    await phone.getByLabel('New password').fill(NEW);
    await phone.getByRole('button', { name: 'Change it' }).click();
    await phone.getByText('The present password is wrong.').waitFor();
    await phone.getByLabel('Present password').fill('a first long password');
    await phone.getByRole('button', { name: 'Change it' }).click();
    await phone.getByText('Changed.').waitFor();
    await own.isSound('people-own');
    expect(await station.records.people.verify('Ada', NEW)).not.toBeNull();

    await row.getByRole('button', { name: 'Remove' }).click();
    await shop.getByRole('dialog').getByRole('button', { name: 'Remove' }).click();
    await row.waitFor({ state: 'detached' });
    await phone.getByRole('button', { name: 'Sign in' }).waitFor();
  });

  it('gives another a new password and another role', async () => {
    const { page: shop, isSound } = await device(SCREENS[1], PERSON);
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
    await isSound('people-changed');
  });
});
