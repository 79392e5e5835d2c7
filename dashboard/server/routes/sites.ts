import { Sites } from '../../contract/sites.ts';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import { siteView } from '../sites/site-view.ts';

/** Many pages may look at once; the database is asked as seldom as one page asks. */
const GOOD_FOR_MS = 5_000;

export function siteRoutes(app: App, { fleet, config, zoneOf, now, log }: Context): void {
  let asked: { atMs: number; answer: Promise<Sites> } | null = null;

  async function ask(atMs: number): Promise<Sites> {
    if (fleet === undefined) throw new Refusal('SITES_NOT_SHARED');
    if (fleet === 'write-only') throw new Refusal('SITES_WRITE_ONLY');
    try {
      const told = await fleet.sites();
      const sites = told.map((one) => siteView(one, config.site, zoneOf));
      return { sites: sites.sort((a, b) => Number(b.own) - Number(a.own)), askedMs: atMs };
    } catch (cause) {
      const { code, message } = cause as { code?: string; message: string };
      if (!code?.startsWith('INFLUX_')) throw cause;
      log.warn(`the sites cannot be shown: ${message}`);
      throw new Refusal('SITES_UNREACHABLE', { cause });
    }
  }

  app.get('/sites', { schema: { response: { 200: Sites } } }, () => {
    const atMs = now();
    if (asked === null || atMs - asked.atMs >= GOOD_FOR_MS || atMs < asked.atMs) {
      asked = { atMs, answer: ask(atMs) };
    }
    return asked.answer;
  });
}
