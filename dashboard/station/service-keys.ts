import { createHmac, randomBytes } from 'node:crypto';
import { closeSync, fsyncSync, linkSync, openSync, readFileSync, rmSync, writeFileSync } from 'node:fs';

/** Passwords with which the station's own parts log in at its broker. */
export interface ServiceKeys {
  collector: string;
  dashboard: string;
}

/**
 * Password of the adapters at vehicles' diagnostic connectors. Worked out from the file's secret instead of kept in it:
 * stations older than this account have the file already.
 */
export function vehicleKey({ collector }: ServiceKeys): string {
  return createHmac('sha256', collector).update('vehicle').digest('base64url').slice(0, 32);
}

/** Password of those who read alerts at the broker, made in the same way. */
export function alertsKey({ collector }: ServiceKeys): string {
  return createHmac('sha256', collector).update('alerts').digest('base64url').slice(0, 32);
}

/**
 * Reads the service keys, making them at the first start. Parts that run apart share the file through the data
 * folder; when two start at once, the hard link lets only one of them win and both read the same keys.
 */
export function serviceKeys(file: string): ServiceKeys {
  try {
    return JSON.parse(readFileSync(file, 'utf8')) as ServiceKeys;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error;
  }
  const fresh = `${file}.${process.pid}`;
  const descriptor = openSync(fresh, 'w', 0o600);
  writeFileSync(descriptor, JSON.stringify({ collector: key(), dashboard: key() }));
  fsyncSync(descriptor);
  closeSync(descriptor);
  try {
    linkSync(fresh, file);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error;
  } finally {
    rmSync(fresh);
  }
  return JSON.parse(readFileSync(file, 'utf8')) as ServiceKeys;
}

function key(): string {
  return randomBytes(24).toString('base64url');
}
