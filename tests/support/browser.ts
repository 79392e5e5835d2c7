import { existsSync } from 'node:fs';
import { AxeBuilder } from '@axe-core/playwright';
import { type Browser, chromium, type Page } from 'playwright-core';
import { findInstalledBrowser } from '../../dashboard/server/report/find-browser.ts';

/** The one the station itself would find, else the browser library's own; null without any. */
export function findBrowser(): string | null {
  if (process.env['CLAMPLINE_BROWSER']) return findInstalledBrowser();
  const own = chromium.executablePath();
  return findInstalledBrowser() ?? (existsSync(own) ? own : null);
}

/** Starts the browser without anything that would reach out of this machine. */
export function launchBrowser(executablePath: string): Promise<Browser> {
  return chromium.launch({
    executablePath,
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  });
}

/** Rules of WCAG 2.0 to 2.2, levels A and AA. */
const WCAG = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22a', 'wcag22aa'];

/** What breaks WCAG 2.2 AA on this page, as lines of text; empty when nothing does. */
export async function accessibilityViolations(page: Page): Promise<string[]> {
  const { violations } = await new AxeBuilder({ page }).withTags([...WCAG, 'best-practice']).analyze();
  return violations.flatMap(({ id, help, nodes }) =>
    nodes.map(({ html }) => `${id}: ${help}: ${html.slice(0, 200)}`),
  );
}
