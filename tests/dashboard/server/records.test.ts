import { copyFileSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, it } from 'vitest';
import { openRecordStore } from '../../../dashboard/server/index.ts';
import { hashPassword, verifyPassword } from '../../../dashboard/server/records/password.ts';
import { CHEAP, clock, NODE_A, PASSWORD, records } from './support.ts';
import { tempDir } from './temp-dir.ts';

describe('the records file', () => {
  it('can be read by this account only', async () => {
    const folder = tempDir();
    const store = records({ folder });
    await store.people.create('Kim', PASSWORD, 'shop');
    const files = readdirSync(folder);
    expect(files.sort()).toEqual(['records.sqlite', 'records.sqlite-shm', 'records.sqlite-wal']);
    for (const file of files) expect(statSync(join(folder, file)).mode & 0o077, file).toBe(0);
  });

  it('keeps everything over a restart', async () => {
    const folder = tempDir();
    const file = join(folder, 'records.sqlite');
    const first = openRecordStore(file, { passwordCost: CHEAP });
    await first.people.create('Kim', PASSWORD, 'shop');
    first.nodes.add(NODE_A, 'Bus 1 rear');
    const asset = first.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
    const location = first.assets.addLocation(asset.id, { name: 'Housing', component: 'Rear axle' });
    first.mounts.put(location.id, { nodeId: NODE_A, sensor: 0 });
    first.close();

    const again = records({ folder });
    expect(await again.people.verify('Kim', PASSWORD)).toMatchObject({ name: 'Kim', role: 'shop' });
    expect(again.nodes.list()).toMatchObject([{ nodeId: NODE_A, label: 'Bus 1 rear' }]);
    expect(again.assets.list()).toEqual([asset]);
    expect(again.assets.locations()).toEqual([location]);
    expect(again.mounts.current()).toMatchObject([{ nodeId: NODE_A, sensor: 0, locationId: location.id }]);
  });

  it('refuses a file of a newer version, of another program, or that is no database, and changes none', () => {
    const folder = tempDir();
    const newer = join(folder, 'newer.sqlite');
    openRecordStore(newer).close();
    const db = new Database(newer);
    db.pragma('user_version = 999');
    db.close();
    expect(() => openRecordStore(newer)).toThrow(/newer version/);

    // Who only reads cannot bring an older one up to date.
    const older = join(folder, 'older.sqlite');
    openRecordStore(older).close();
    const before = new Database(older);
    before.pragma(`user_version = ${(before.pragma('user_version', { simple: true }) as number) - 1}`);
    before.close();
    expect(() => openRecordStore(older, { readOnly: true })).toThrow(
      expect.objectContaining({
        message: expect.stringContaining('earlier version'),
        remedy: expect.stringContaining('Start the station once'),
      }),
    );

    const foreign = join(folder, 'foreign.sqlite');
    const other = new Database(foreign);
    other.exec('CREATE TABLE t (a)');
    other.close();
    const bytes = readFileSync(foreign);
    expect(() => openRecordStore(foreign)).toThrow(/not a records file/);
    expect(readFileSync(foreign).equals(bytes)).toBe(true);

    const text = join(folder, 'text.sqlite');
    writeFileSync(text, 'these are not the records you look for, but they are long enough'.repeat(20));
    expect(() => openRecordStore(text)).toThrow(/cannot open the records file/);
    expect(() => openRecordStore(text)).toThrow(
      expect.objectContaining({ remedy: expect.stringContaining('restore a backup') }),
    );
    expect(() => openRecordStore(join(folder, 'missing', 'records.sqlite'))).toThrow(
      expect.objectContaining({
        code: 'RECORDS_UNREADABLE',
        remedy: expect.stringContaining('folder exists'),
      }),
    );
  });

  it('checks a file that was not closed properly, and says to restore a backup when it is damaged', () => {
    const folder = tempDir();
    const left = join(folder, 'left.sqlite');
    const file = join(folder, 'records.sqlite');
    const store = openRecordStore(file, { passwordCost: CHEAP });
    for (let bus = 0; bus < 200; bus++)
      store.assets.add({
        name: `Bus ${bus} ${'of the town '.repeat(8)}`,
        kind: 'vehicle',
        machineClass: 'II',
      });
    // What a crash leaves: the file and its log, as they are while the file is open.
    copyFileSync(file, left);
    copyFileSync(`${file}-wal`, `${left}-wal`);
    store.close();
    const sound = openRecordStore(left, { passwordCost: CHEAP });
    expect(sound.assets.list()).toHaveLength(200);
    sound.close();

    // Rows of the assets' table are overwritten; its root and the schema are whole, so that the file opens.
    const db = new Database(file);
    const page = db
      .prepare<[], number>("SELECT pageno FROM dbstat WHERE name = 'assets' AND pagetype = 'leaf' LIMIT 1")
      .pluck()
      .get()!;
    db.close();
    const bytes = readFileSync(file);
    bytes.fill(0xa5, (page - 1) * 4096, page * 4096);
    writeFileSync(file, bytes);
    openRecordStore(file, { passwordCost: CHEAP }).close();
    writeFileSync(`${file}-wal`, 'left by a crash');
    expect(() => openRecordStore(file, { passwordCost: CHEAP })).toThrow(
      expect.objectContaining({
        code: 'RECORDS_UNREADABLE',
        message: expect.stringContaining('not closed properly'),
        remedy: expect.stringContaining('restore a backup'),
      }),
    );
  });

  it('holds no secret in clear', async () => {
    const folder = tempDir();
    const file = join(folder, 'records.sqlite');
    const store = openRecordStore(file, { passwordCost: CHEAP });
    const setupToken = store.setup.issueToken()!;
    const nodePassword = store.nodes.add(NODE_A, 'n');
    const person = await store.people.create('Kim', PASSWORD, 'shop');
    const { token } = store.sessions.open(person);
    store.close();
    const bytes = readFileSync(file);
    for (const secret of [setupToken, nodePassword, PASSWORD, token])
      expect(bytes.includes(secret)).toBe(false);
  });
});

describe('passwords', () => {
  it('match only themselves, whatever way a letter is composed', async () => {
    const stored = await hashPassword('caf\u00e9 au garage', CHEAP);
    expect(await verifyPassword('cafe\u0301 au garage', stored)).toBe(true);
    expect(await verifyPassword('cafe au garage', stored)).toBe(false);
    expect(await verifyPassword('', 'unknown$scheme')).toBe(false);
    expect(await hashPassword('same', CHEAP)).not.toBe(await hashPassword('same', CHEAP));
  });

  it('agree with the scrypt example of RFC 7914, section 12 (N = 1024, r = 8, p = 16)', async () => {
    const key =
      'fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b3731622eaf30d92e22a3886ff109279d9830dac727afb94a83ee6d8360cbdfa2cc0640';
    // The first 32 bytes of a longer scrypt output are the shorter output: PBKDF2 makes it block by block.
    const stored = [
      'scrypt',
      10,
      8,
      16,
      Buffer.from('NaCl').toString('base64'),
      Buffer.from(key.slice(0, 64), 'hex').toString('base64'),
    ].join('$');
    expect(await verifyPassword('password', stored)).toBe(true);
    expect(await verifyPassword('passwore', stored)).toBe(false);
  });
});

describe('a burst of logins', () => {
  it('is bounded, and the ones let in are served', async () => {
    const store = records();
    await store.people.create('Kim', PASSWORD, 'shop');
    const all = await Promise.allSettled(
      Array.from({ length: 60 }, () => store.people.verify('Kim', PASSWORD)),
    );
    const served = all.filter((one) => one.status === 'fulfilled' && one.value !== null);
    const refused = all.filter((one) => one.status === 'rejected' && one.reason.code === 'TOO_MANY_REQUESTS');
    expect(served.length).toBeGreaterThanOrEqual(30);
    expect(served.length + refused.length).toBe(60);
    expect(refused.length).toBeGreaterThan(0);
    expect(await store.people.verify('Kim', PASSWORD)).not.toBeNull();
  });
});

describe('people', () => {
  it('are one person whatever the case of the name', async () => {
    const store = records();
    await store.people.create('Kim', PASSWORD, 'shop');
    await expect(store.people.create(' kim ', PASSWORD, 'shop')).rejects.toMatchObject({
      code: 'NAME_TAKEN',
    });
    expect(await store.people.verify('KIM', PASSWORD)).toMatchObject({ name: 'Kim' });
    expect(await store.people.verify('Kim', 'wrong password')).toBeNull();
    expect(await store.people.verify('Nobody', PASSWORD)).toBeNull();
  });
});

describe('the setup token', () => {
  it('works once, and only the newest one', async () => {
    const store = records();
    const old = store.setup.issueToken()!;
    const token = store.setup.issueToken()!;
    await expect(store.setup.redeem(old, 'Kim', PASSWORD)).rejects.toMatchObject({
      code: 'SETUP_TOKEN_WRONG',
    });
    const both = await Promise.allSettled([
      store.setup.redeem(token, 'Kim', PASSWORD),
      store.setup.redeem(token, 'Sam', PASSWORD),
    ]);
    expect(both.map(({ status }) => status).sort()).toEqual(['fulfilled', 'rejected']);
    expect(store.people.count()).toBe(1);
    await expect(store.setup.redeem(token, 'Lee', PASSWORD)).rejects.toMatchObject({ code: 'SETUP_DONE' });
    expect(store.setup.issueToken()).toBeNull();
  });
});

describe('sessions', () => {
  const DAY_MS = 86_400_000;

  it('end a week after the last use, and after 90 days at the latest', async () => {
    const time = clock();
    const store = records(time);
    const person = await store.people.create('Kim', PASSWORD, 'shop');
    const { token, session } = store.sessions.open(person);
    expect(store.sessions.use(token)).toMatchObject({ session: { id: session.id }, slid: false });
    expect(store.sessions.use(`${token.slice(1)}0`)).toBeNull();

    time.advance(6 * DAY_MS);
    expect(store.sessions.use(token)).toMatchObject({ slid: true });
    time.advance(6 * DAY_MS);
    expect(store.sessions.isOpen(session.id)).toBe(true);
    for (let day = 12; day < 90; day += 6) {
      expect(store.sessions.use(token), `day ${day}`).not.toBeNull();
      time.advance(6 * DAY_MS);
    }
    expect(store.sessions.use(token)).toBeNull();

    const second = store.sessions.open(person);
    time.advance(7 * DAY_MS);
    expect(store.sessions.isOpen(second.session.id)).toBe(false);
    expect(store.sessions.use(second.token)).toBeNull();
  });

  it('are closed one by one, and the oldest goes when a person has too many', async () => {
    const store = records();
    const person = await store.people.create('Kim', PASSWORD, 'shop');
    const closed: number[] = [];
    store.onChange((change) => change.kind === 'session-closed' && closed.push(change.sessionId));
    const opened = Array.from({ length: 21 }, () => store.sessions.open(person));
    expect(closed).toEqual([opened[0]!.session.id]);
    store.sessions.close(opened[5]!.session.id);
    store.sessions.close(opened[5]!.session.id);
    expect(closed).toEqual([opened[0]!.session.id, opened[5]!.session.id]);
    expect(store.sessions.use(opened[5]!.token)).toBeNull();
    expect(store.sessions.use(opened[6]!.token)).not.toBeNull();
  });
});
