import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { StationAddress } from '../../../dashboard/contract/rig.ts';
import { settingsHeader } from '../../../dashboard/server/enrolment.ts';
import { NODE_A, testApp } from './support.ts';
import { tempDir } from './temp-dir.ts';

const PEM = '-----BEGIN CERTIFICATE-----\nMIIB+w==\n-----END CERTIFICATE-----\n';

function station(change: Partial<StationAddress['mqtt']> = {}): StationAddress {
  return {
    site: 'depot',
    mqtt: {
      hosts: ['192.168.7.20', '10.0.0.4'],
      port: 1884,
      tls: false,
      certificateSha256: null,
      certificatePem: null,
      thisComputerOnly: false,
      ...change,
    },
  };
}

/** Compiles the header as a board's firmware would and prints what it defines. */
function compiled(header: string): string[] {
  const folder = tempDir();
  writeFileSync(join(folder, 'node-settings.h'), header);
  writeFileSync(
    join(folder, 'main.c'),
    `#include <stdio.h>
     #include "node-settings.h"
     #ifndef BROKER_CERTIFICATE
     #define BROKER_CERTIFICATE "none"
     #endif
     int main(void) {
       printf("%016llx|%s|%s|%d|%d|%s|%s", (unsigned long long)NODE_ID, SITE, BROKER, BROKER_PORT, BROKER_TLS, TOKEN,
              BROKER_CERTIFICATE);
       return 0;
     }`,
  );
  execFileSync('cc', ['-std=c99', '-Wall', '-Wextra', '-Wpedantic', '-Werror', 'main.c', '-o', 'main'], {
    cwd: folder,
  });
  return execFileSync(join(folder, 'main'), { encoding: 'utf8' }).split('|');
}

const hasCompiler = (() => {
  try {
    execFileSync('cc', ['--version'], { stdio: 'ignore' });
    return true;
  } catch {
    return false;
  }
})();

describe.skipIf(!hasCompiler)('the header to flash', () => {
  const password = '0123456789abcdef0123456789abcdef';

  it('compiles, and holds what the node needs', () => {
    const header = settingsHeader({ nodeId: NODE_A, label: 'Gearbox board', password }, station());
    expect(compiled(header)).toEqual([NODE_A, 'depot', '192.168.7.20', '1884', '0', password, 'none']);
    expect(header).toContain('10.0.0.4');
  });

  it('holds the certificate to trust, with its fingerprint', () => {
    const tls = { tls: true, certificateSha256: 'AB:CD', certificatePem: PEM };
    const header = settingsHeader({ nodeId: NODE_A, label: 'Gearbox board', password }, station(tls));
    expect(compiled(header).at(-1)).toBe(PEM);
    expect(header).toContain('AB:CD');
  });

  it('is not broken by a label, and says when no board could reach the station', () => {
    const label = 'Bus 3 */ #define TOKEN "x" \\ größer';
    const header = settingsHeader(
      { nodeId: NODE_A, label, password },
      station({ hosts: ['127.0.0.1'], thisComputerOnly: true }),
    );
    expect(compiled(header)).toContain(password);
    expect(header).toMatch(/own computer only/);
  });
});

describe('enrolling', () => {
  it('answers with the header where the station knows its address', async () => {
    const { call, as } = await testApp({ deps: { station } });
    const person = await as('shop');
    const { json } = await call('POST', '/api/nodes', { ...person, body: { nodeId: NODE_A, label: 'a' } });
    expect(json.header).toContain(json.password);
    expect((await call('GET', '/api/station', person)).json).toEqual(station());
    expect((await call('GET', '/api/station')).status).toBe(401);
  });
});
