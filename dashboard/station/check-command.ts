import { Command } from 'commander';
import type { Health } from '../contract/http.ts';
import { StationError } from './errors.ts';

/** `check`: asks a running station whether it is in order; for people and for service managers. */
export function checkCommand(): Command {
  return new Command('check')
    .description('ask a running station whether it is in order (exit code 0) or not (1)')
    .option('--page <url>', 'address of its page', process.env['CLAMPLINE_PAGE'] ?? 'http://127.0.0.1:8080')
    .action(async ({ page }: { page: string }) => {
      const { ok } = await askHealth(page);
      if (!ok) {
        throw new StationError(
          'STATION_UNWELL',
          `the station at ${page} is running, but something in it is not in order`,
        );
      }
      console.log(`The station at ${page} is in order.`);
    });
}

async function askHealth(page: string): Promise<Pick<Health, 'ok'>> {
  try {
    const response = await fetch(new URL('/api/health', page), { signal: AbortSignal.timeout(5_000) });
    return (await response.json()) as Pick<Health, 'ok'>;
  } catch (error) {
    const { cause, message } = error as Error;
    throw new StationError(
      'NO_STATION',
      `no station answers at ${page}: ${(cause as Error | undefined)?.message ?? message}`,
    );
  }
}
