import { describe, expect, it } from 'vitest';
import { PASSWORD, testApp } from './support.ts';

const OTHER = 'quite another one';

async function station() {
  const app = await testApp();
  const shop = await app.as('shop');
  const technician = await app.as('technician');
  const send = (method: 'GET' | 'POST' | 'PATCH' | 'DELETE', url: string, body?: unknown) =>
    app.call(method, `/api${url}`, { cookie: shop.cookie, ...(body === undefined ? {} : { body }) });
  const opens = async (name: string, password: string) =>
    (await app.call('POST', '/api/login', { body: { name, password } })).status === 200;
  const isIn = async (cookie: string) => (await app.call('GET', '/api/assets', { cookie })).status === 200;
  return { ...app, shop, technician, send, opens, isIn };
}

describe('people of a station', () => {
  it('are let in, listed without anything secret, and removed with their sessions', async () => {
    const { send, opens, technician, isIn } = await station();
    const made = await send('POST', '/people', { name: ' Ada ', password: OTHER, role: 'technician' });
    expect(made.json).toMatchObject({ name: 'Ada', role: 'technician', you: false });
    expect(await opens('ada', OTHER)).toBe(true);
    const list = await send('GET', '/people');
    expect(list.json.map(({ name, you }: { name: string; you: boolean }) => [name, you])).toEqual([
      ['Ada', false],
      ['shop person', true],
      ['technician person', false],
    ]);
    expect(list.text).not.toMatch(/scrypt|hash|password/i);
    expect(await isIn(technician.cookie)).toBe(true);
    expect((await send('DELETE', `/people/${technician.session.person.id}`)).status).toBe(200);
    expect(await isIn(technician.cookie)).toBe(false);
    expect(await opens('technician person', PASSWORD)).toBe(false);
  });

  it('cannot share a name, and unknown ones are said to be unknown', async () => {
    const { send } = await station();
    const taken = await send('POST', '/people', { name: 'SHOP person', password: OTHER, role: 'shop' });
    expect([taken.status, taken.json.code]).toEqual([409, 'NAME_TAKEN']);
    expect((await send('PATCH', '/people/999', { role: 'shop' })).json.code).toBe('PERSON_NOT_FOUND');
    expect((await send('DELETE', '/people/999')).json.code).toBe('PERSON_NOT_FOUND');
    expect(
      (await send('POST', '/people', { name: 'X', password: 'short', role: 'shop' })).json,
    ).toMatchObject({
      code: 'VALIDATION_FAILED',
      field: 'password',
    });
  });

  it('never lose the last one who may let others in, also when two step down at once', async () => {
    const { send, shop, technician } = await station();
    const [me, other] = [shop.session.person.id, technician.session.person.id];
    expect((await send('DELETE', `/people/${me}`)).json.code).toBe('LAST_SHOP');
    expect((await send('PATCH', `/people/${me}`, { role: 'technician' })).json.code).toBe('LAST_SHOP');
    expect((await send('PATCH', `/people/${other}`, { role: 'shop' })).json.role).toBe('shop');
    const both = await Promise.all(
      [me, other].map((id) => send('PATCH', `/people/${id}`, { role: 'technician', password: OTHER })),
    );
    expect(both.filter(({ status }) => status === 200)).toHaveLength(1);
  });

  it('get a new password from the shop, which ends their sessions', async () => {
    const { send, technician, isIn, opens } = await station();
    await send('PATCH', `/people/${technician.session.person.id}`, { password: OTHER });
    expect(await isIn(technician.cookie)).toBe(false);
    expect(await opens('technician person', PASSWORD)).toBe(false);
    expect(await opens('technician person', OTHER)).toBe(true);
  });

  it('change their own, knowing the old one, and stay in here only', async () => {
    const { call, as, technician, isIn, opens } = await station();
    const elsewhere = await as('technician');
    const ask = (current: string) =>
      call('POST', '/api/password', { cookie: technician.cookie, body: { current, password: OTHER } });
    expect((await ask('guessed')).json).toMatchObject({ code: 'PASSWORD_WRONG', field: 'current' });
    expect(await isIn(elsewhere.cookie)).toBe(true);
    expect((await ask(PASSWORD)).status).toBe(200);
    expect(await isIn(technician.cookie)).toBe(true);
    expect(await isIn(elsewhere.cookie)).toBe(false);
    expect(await opens('technician person', OTHER)).toBe(true);
  });
});
