import { readFileSync } from 'node:fs';
import { mkdir, readFile, writeFile } from 'node:fs/promises';
import { hostname, networkInterfaces } from 'node:os';
import { join } from 'node:path';
import { createSecureContext } from 'node:tls';
import { generate } from 'selfsigned';
import { StationError } from './errors.ts';
import type { TlsSetting } from './settings.ts';

export interface TlsFiles {
  cert: string;
  key: string;
}

/** Certificate and key as set; a station's own certificate is made once and kept in the data folder. */
export async function loadTls(setting: TlsSetting, folder: string): Promise<TlsFiles | null> {
  if (setting.kind === 'off') return null;
  const files = setting.kind === 'files' ? readGiven(setting) : await ownCertificate(folder);
  try {
    createSecureContext(files);
  } catch (error) {
    throw new StationError('TLS_FILES', `certificate and key cannot be used: ${(error as Error).message}`);
  }
  return files;
}

function readGiven({ certFile, keyFile }: { certFile: string; keyFile: string }): TlsFiles {
  try {
    return { cert: readFileSync(certFile, 'utf8'), key: readFileSync(keyFile, 'utf8') };
  } catch (error) {
    throw new StationError('TLS_FILES', (error as Error).message);
  }
}

/** A certificate to trust. Throws StationError `TLS_FILES`. */
export function readCertificate(file: string): string {
  try {
    const text = readFileSync(file, 'utf8');
    createSecureContext({ ca: text });
    return text;
  } catch (error) {
    throw new StationError('TLS_FILES', `${file}: ${(error as Error).message}`);
  }
}

async function ownCertificate(folder: string): Promise<TlsFiles> {
  const certFile = join(folder, 'station.cert.pem');
  const keyFile = join(folder, 'station.key.pem');
  try {
    return { cert: await readFile(certFile, 'utf8'), key: await readFile(keyFile, 'utf8') };
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error;
  }
  const addresses = Object.values(networkInterfaces()).flatMap((list) =>
    (list ?? []).map((entry) => entry.address),
  );
  const notAfterDate = new Date();
  notAfterDate.setFullYear(notAfterDate.getFullYear() + 2);
  const made = await generate([{ name: 'commonName', value: hostname() }], {
    keyType: 'ec',
    notAfterDate,
    extensions: [
      {
        name: 'subjectAltName',
        altNames: [
          { type: 2, value: 'localhost' },
          { type: 2, value: hostname() },
          ...addresses.map((ip) => ({ type: 7 as const, ip })),
        ],
      },
    ],
  });
  await mkdir(folder, { recursive: true, mode: 0o700 });
  await writeFile(keyFile, made.private, { mode: 0o600 });
  await writeFile(certFile, made.cert);
  return { cert: made.cert, key: made.private };
}
