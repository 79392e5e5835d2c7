import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { expect } from 'vitest';
import { accessibilityViolations } from './browser.ts';
import { PERSON } from './web-fixture.ts';

interface Size {
  width: number;
  height: number;
}

/** Name, size and colour scheme of the screens on which a page must hold. */
export const SCREENS = [
  ['a phone', { width: 390, height: 844 }, 'light'],
  ['a phone, dark', { width: 390, height: 844 }, 'dark'],
  ['a desk', { width: 1280, height: 800 }, 'light'],
] as const satisfies readonly (readonly [string, Size, 'light' | 'dark'])[];

/** Where to put pictures for a person to look at; nowhere by default. */
const pictures = process.env['CLAMPLINE_TEST_PICTURES'];

export interface Screen {
  page: Page;
  /** Opens an address of the station, as somebody. */
  enter(path: string, person?: { name: string; password: string }): Promise<void>;
  /** The page fits the screen, is accessible and has run without errors; its picture is taken. */
  isSound(what: string): Promise<void>;
  close(): Promise<void>;
}

/** A browser of its own, signed out, on one of `SCREENS`. */
export async function openScreen(
  browser: Browser,
  url: string,
  [name, viewport, colorScheme]: readonly [string, Size, 'light' | 'dark'] = SCREENS[2],
): Promise<Screen> {
  const context = await browser.newContext({ viewport, colorScheme });
  const page = await context.newPage();
  page.setDefaultTimeout(30_000);
  const trouble: string[] = [];
  page.on('pageerror', (error) => trouble.push(error.message));
  return {
    page,
    async enter(path, person = PERSON) {
      await page.goto(`${url}${path}`);
      await page.getByLabel('Name').fill(person.name);
      await page.getByLabel('Password').fill(person.password);
      await page.getByRole('button', { name: 'Sign in' }).click();
    },
    async isSound(what) {
      const overhang = 'document.documentElement.scrollWidth - document.documentElement.clientWidth';
      expect(await page.evaluate(overhang)).toBe(0);
      expect(await accessibilityViolations(page)).toEqual([]);
      expect(trouble).toEqual([]);
      if (pictures === undefined) return;
      mkdirSync(pictures, { recursive: true });
      await page.screenshot({ path: join(pictures, `${what}-${name}.png`), fullPage: true });
    },
    close: () => context.close(),
  };
}
