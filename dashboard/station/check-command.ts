import { once } from 'node:events';
import { readFile } from 'node:fs/promises';
import http from 'node:http';
import https from 'node:https';
import { json } from 'node:stream/consumers';
import { Command } from 'commander';
import type { Health } from '../contract/http.ts';
import { StationError } from './errors.ts';

/** `check`: asks a running station whether it is in order; for people and for service managers. */
export function checkCommand(): Command {
  return new Command('check')
    .description('ask a running station whether it is in order (exit code 0) or not (1)')
    .option('--page <url>', 'address of its page', process.env['CLAMPLINE_PAGE'] ?? 'http://127.0.0.1:8080')
    .option(
      '--trust <cert.pem>',
      'certificate to trust, when the station has its own (data folder, tls/station.cert.pem)',
    )
    .action(async ({ page, trust }: { page: string; trust?: string }) => {
      const { ok } = await askHealth(page, trust === undefined ? undefined : await readFile(trust, 'utf8'));
      if (!ok) {
        throw new StationError(
          'STATION_UNWELL',
          `the station at ${page} is running, but something in it is not in order`,
        );
      }
      console.log(`The station at ${page} is in order.`);
    });
}

async function askHealth(page: string, ca: string | undefined): Promise<Pick<Health, 'ok'>> {
  try {
    const url = new URL('/api/health', page);
    // Not fetch: it cannot be told to trust one certificate.
    const request =
      url.protocol === 'https:' ? https.get(url, { ca, timeout: 5_000 }) : http.get(url, { timeout: 5_000 });
    request.on('timeout', () => request.destroy(new Error('no answer within 5 s')));
    const [answer] = (await once(request, 'response')) as [http.IncomingMessage];
    return (await json(answer)) as Pick<Health, 'ok'>;
  } catch (error) {
    const { message, code } = error as NodeJS.ErrnoException;
    throw new StationError('NO_STATION', `no station answers at ${page}: ${message || code}`);
  }
}
