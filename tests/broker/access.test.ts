import { afterEach, describe, expect, it, vi } from 'vitest';
import { mayPublish, maySubscribe, type Principal } from '../../broker/access.ts';
import { NODE, OTHER_NODE, SITE, type Station, samplePacket, samplesTopic, startStation } from './station.ts';

const node: Principal = { role: 'node', nodeId: NODE };
const service = (name: string): Principal => ({ role: 'service', name });
const t = (rest: string, site = SITE) => `clampline/${site}/${rest}`;

describe('who may publish where', () => {
  const table: [Principal, string, boolean][] = [
    [node, t(`node/${NODE}/samples`), true],
    [node, t(`node/${NODE}/status`), true],
    [node, t(`node/${NODE}/time`), true],
    [node, t(`node/${NODE}/event`), true],
    [node, t(`node/${NODE}/other`), false],
    [node, t(`node/${NODE}/samples/x`), false],
    [node, t(`node/${OTHER_NODE}/samples`), false],
    [node, t(`node/${NODE}/samples`, 'elsewhere'), false],
    [node, t(`to/${NODE}/command`), false],
    [node, t(`reading/${NODE}/0`), false],
    [node, '$SYS/x', false],
    [service('collector'), t(`reading/${NODE}/0`), true],
    [service('collector'), t(`live/${NODE}/0`), true],
    [service('collector'), t('collector'), true],
    [service('collector'), t(`to/${NODE}/journaled`), true],
    [service('collector'), t(`watch/${NODE}/0`), false],
    [service('collector'), t(`node/${NODE}/samples`), false],
    [service('collector'), t(`reading/${NODE}/0`, 'elsewhere'), false],
    [service('dashboard'), t(`watch/${NODE}/0`), true],
    [service('dashboard'), t(`to/${NODE}/command`), true],
    [service('dashboard'), t(`to/${NODE}/time`), false],
    [service('dashboard'), t(`reading/${NODE}/0`), false],
    [service('stranger'), t('collector'), false],
  ];
  for (const [who, topic, allowed] of table) {
    it(`${who.role === 'node' ? 'node' : who.name} ${allowed ? 'may' : 'may not'} publish on ${topic}`, () => {
      expect(mayPublish(who, topic, SITE)).toBe(allowed);
    });
  }
});

describe('who may subscribe to what', () => {
  const table: [Principal, string, boolean][] = [
    [node, t(`to/${NODE}/+`), true],
    [node, t(`to/${NODE}/time`), true],
    [node, t(`to/${NODE}/#`), false],
    [node, t(`to/${OTHER_NODE}/+`), false],
    [node, t('to/+/+'), false],
    [node, t(`node/${NODE}/samples`), false],
    [node, '#', false],
    [node, `$share/all/${t(`to/${NODE}/+`)}`, false],
    [service('collector'), t('watch/+/+'), true],
    [service('collector'), t(`watch/${NODE}/0`), true],
    [service('collector'), t('node/+/samples'), false],
    [service('dashboard'), t('reading/+/+'), true],
    [service('dashboard'), t(`live/${NODE}/+`), true],
    [service('dashboard'), t('collector'), true],
    [service('dashboard'), t('#'), false],
    [service('dashboard'), '+/+/+', false],
    [service('dashboard'), '$SYS/#', false],
    [service('stranger'), t('collector'), false],
  ];
  for (const [who, filter, allowed] of table) {
    it(`${who.role === 'node' ? 'node' : who.name} ${allowed ? 'may' : 'may not'} subscribe to ${filter}`, () => {
      expect(maySubscribe(who, filter, SITE)).toBe(allowed);
    });
  }
});

describe('over MQTT', () => {
  let station: Station;
  afterEach(() => station.close());
  const count = (name: string) => station.broker.counters()[name] ?? 0;

  it('a wrong user or password is refused with the code for it, and counted', async () => {
    station = await startStation();
    await expect(station.connect(NODE, { password: 'wrong' })).rejects.toMatchObject({ code: 4 });
    await expect(station.connect(NODE, { username: '', password: '' })).rejects.toThrow();
    expect(count('loginsFailed')).toBe(2);
    expect(station.log.lines.join('\n')).toMatch(/make new credentials/);
  });

  it('is closed to all while logins cannot be checked, and says why', async () => {
    station = await startStation({
      credentials: { verify: () => Promise.reject(new Error('records.sqlite is locked')) },
    });
    await expect(station.connect()).rejects.toMatchObject({ code: 3 });
    expect(station.log.lines.join('\n')).toMatch(/records.sqlite is locked/);
  });

  it("a node that publishes on another's topic is disconnected; nothing is kept", async () => {
    station = await startStation();
    const client = await station.connect();
    const closed = new Promise<void>((resolve) => client.once('close', () => resolve()));
    client.publish(samplesTopic(OTHER_NODE), samplePacket(1, OTHER_NODE), { qos: 1 });
    await closed;
    expect(await station.records()).toEqual([]);
    expect(count('publishesDenied')).toBe(1);
    expect(station.log.lines.join('\n')).toMatch(`node ${NODE} may not publish`);
  });

  it('a subscription not allowed is refused; the connection goes on', async () => {
    station = await startStation();
    const client = await station.connect();
    for (const filter of ['#', `$share/g/${t(`to/${NODE}/+`)}`, t(`to/${OTHER_NODE}/+`)]) {
      await expect(client.subscribeAsync(filter)).rejects.toThrow(/128|Unspecified/);
    }
    expect(await client.subscribeAsync(t(`to/${NODE}/+`), { qos: 1 })).toMatchObject([{ qos: 1 }]);
    await client.publishAsync(samplesTopic(), samplePacket(1), { qos: 1 });
    expect(count('subscriptionsDenied')).toBe(3);
  });

  it('carries commands to the node, readings to the dashboard; a late dashboard gets the newest reading', async () => {
    station = await startStation();
    const [board, collector, dashboard] = [
      await station.connect(),
      await station.connect('collector'),
      await station.connect('dashboard'),
    ];
    const received: string[] = [];
    board.on('message', (topic, payload) => received.push(`${topic} ${payload}`));
    await board.subscribeAsync(t(`to/${NODE}/+`), { qos: 1 });
    await dashboard.publishAsync(t(`to/${NODE}/command`), 'identify', { qos: 1 });
    await collector.publishAsync(t(`reading/${NODE}/0`), 'old', { qos: 1, retain: true });
    await collector.publishAsync(t(`reading/${NODE}/0`), 'new', { qos: 1, retain: true });
    dashboard.on('message', (topic, payload, { retain }) => received.push(`${topic} ${payload} ${retain}`));
    await dashboard.subscribeAsync(t('reading/+/+'), { qos: 1 });
    await vi.waitFor(() => expect(received).toHaveLength(2));
    expect(received.sort()).toEqual([
      `${t(`reading/${NODE}/0`)} new true`,
      `${t(`to/${NODE}/command`)} identify`,
    ]);
    expect(await station.records()).toEqual([]);
  });

  it('nobody can throw out another by taking its client identifier', async () => {
    station = await startStation();
    const first = await station.connect(NODE, { clientId: 'board' });
    await station.connect(OTHER_NODE, { clientId: 'board' });
    await first.publishAsync(samplesTopic(), samplePacket(1), { qos: 1 });
    expect(station.broker.clients().map(({ clientId }) => clientId)).toEqual(['board', 'board']);
    expect(count('takeovers')).toBe(0);
  });

  it('the same node again takes over from its old connection, and that is said', async () => {
    station = await startStation();
    const first = await station.connect(NODE, { clientId: 'board' });
    const closed = new Promise<void>((resolve) => first.once('close', () => resolve()));
    const second = await station.connect(NODE, { clientId: 'board' });
    await closed;
    await second.publishAsync(samplesTopic(), samplePacket(1), { qos: 1 });
    expect(station.broker.clients()).toHaveLength(1);
    expect(count('takeovers')).toBe(1);
    expect(station.log.lines.join('\n')).toMatch(/second time/);
  });

  it('keeps no session: nothing collects for a client that is away', async () => {
    station = await startStation();
    const options = { clientId: 'board', clean: false };
    const before = await station.connect(NODE, options);
    await before.subscribeAsync(t(`to/${NODE}/+`), { qos: 1 });
    await before.endAsync();
    const dashboard = await station.connect('dashboard');
    await dashboard.publishAsync(t(`to/${NODE}/command`), 'too late', { qos: 1 });
    const after = await station.connect(NODE, options);
    const received: string[] = [];
    after.on('message', (_topic, payload) => received.push(`${payload}`));
    await after.subscribeAsync(t(`to/${NODE}/+`), { qos: 1 });
    await dashboard.publishAsync(t(`to/${NODE}/command`), 'in time', { qos: 1 });
    await vi.waitFor(() => expect(received).toEqual(['in time']));
  });
});
