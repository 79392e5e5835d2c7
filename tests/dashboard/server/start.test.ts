import { once } from 'node:events';
import { type AddressInfo, createServer } from 'node:net';
import { describe, expect, it, onTestFinished } from 'vitest';
import { zoneOf } from '../../../collector/index.ts';
import { createDashboard } from '../../../dashboard/server/index.ts';
import { storedReadings } from './stored-readings.ts';
import { HEALTHY, records } from './support.ts';
import { tempDir } from './temp-dir.ts';

/** The broker is away all the time here: nothing listens on port 1. */
async function start(place: { host?: string; port: number }) {
  const mqtt = { url: 'mqtt://127.0.0.1:1', username: 'dashboard', password: 'key' };
  const silent = { info() {}, warn() {}, error() {} };
  const { reader } = await storedReadings();
  const dashboard = await createDashboard(
    { ...place, webRoot: tempDir(), site: 'depot', mqtt },
    { records: records(), readings: reader, zoneOf, health: () => HEALTHY, log: silent },
  );
  onTestFinished(() => dashboard.close());
  return dashboard;
}

describe('starting the dashboard', () => {
  it('works without a broker, on this computer only', async () => {
    const { url } = await start({ port: 0 });
    expect(url).toMatch(/^http:\/\/127\.0\.0\.1:\d+$/);
    expect(await (await fetch(`${url}/api/health`)).json()).toEqual({ ok: false });
  });

  it('gives an address that can be opened when it listens on all of them', async () => {
    const { url } = await start({ host: '0.0.0.0', port: 0 });
    expect(url).toMatch(/^http:\/\/127\.0\.0\.1:\d+$/);
    expect((await fetch(`${url}/api/session`)).status).toBe(200);
  });

  it('says what is wrong and what to do when the port is taken or the address is not ours', async () => {
    const other = createServer();
    other.listen(0, '127.0.0.1');
    await once(other, 'listening');
    onTestFinished(() => void other.close());
    const { port } = other.address() as AddressInfo;
    await expect(start({ port })).rejects.toMatchObject({
      code: 'DASHBOARD_PORT_TAKEN',
      message: expect.stringContaining(`127.0.0.1 port ${port}`),
      remedy: expect.stringContaining('--port'),
    });
    // A documentation address (RFC 5737), which no computer has.
    await expect(start({ host: '192.0.2.1', port: 0 })).rejects.toMatchObject({
      code: 'DASHBOARD_ADDRESS_UNAVAILABLE',
    });
  });
});
