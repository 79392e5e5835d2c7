import { once } from 'node:events';
import { request } from 'node:https';
import type { AddressInfo } from 'node:net';
import { connect } from 'node:net';
import selfsigned from 'selfsigned';
import { describe, expect, it } from 'vitest';
import WebSocket from 'ws';
import { PASSWORD, testApp } from './support.ts';

async function certificate() {
  const made = await selfsigned.generate([{ name: 'commonName', value: 'localhost' }], {
    extensions: [{ name: 'subjectAltName', altNames: [{ type: 2, value: 'localhost' }] }],
  });
  return { key: made.private, cert: made.cert };
}

describe('over TLS', () => {
  it('logs in with a cookie that never travels in the clear, and opens the live line', async () => {
    const tls = await certificate();
    const { app, store } = await testApp({ tls });
    await app.listen({ host: '127.0.0.1', port: 0 });
    const { port } = app.server.address() as AddressInfo;
    await store.people.create('Kim', PASSWORD, 'shop');

    const origin = `https://localhost:${port}`;
    const answer = await new Promise<{ status?: number; cookie: string }>((resolve, reject) => {
      const call = request(
        {
          host: '127.0.0.1',
          servername: 'localhost',
          port,
          path: '/api/login',
          method: 'POST',
          ca: tls.cert,
        },
        (response) => {
          response.resume();
          resolve({ status: response.statusCode!, cookie: String(response.headers['set-cookie']) });
        },
      );
      call.on('error', reject);
      call.setHeader('host', `localhost:${port}`);
      call.setHeader('origin', origin);
      call.setHeader('content-type', 'application/json');
      call.end(JSON.stringify({ name: 'Kim', password: PASSWORD }));
    });
    expect(answer.status).toBe(200);
    expect(answer.cookie).toMatch(/^__Host-clampline-session=[0-9a-f]{64};.*; Secure/);

    const cookie = answer.cookie.split(';')[0]!;
    const options = {
      ca: tls.cert,
      servername: 'localhost',
      headers: { cookie, origin, host: `localhost:${port}` },
    };
    const socket = new WebSocket(`wss://127.0.0.1:${port}/api/live`, options);
    const [first] = await once(socket, 'message');
    expect(JSON.parse(String(first)).type).toBe('heartbeat');
    const plain = { ...options, headers: { ...options.headers, origin: `http://localhost:${port}` } };
    const [, refused] = await once(
      new WebSocket(`wss://127.0.0.1:${port}/api/live`, plain),
      'unexpected-response',
    );
    expect(refused.statusCode).toBe(403);
    refused.destroy();
    socket.terminate();
  });
});

describe('bytes that are no request', () => {
  it('get an answer and a closed connection, and hurt nobody', async () => {
    const { app, call } = await testApp();
    await app.listen({ host: '127.0.0.1', port: 0 });
    const { port } = app.server.address() as AddressInfo;
    const socket = connect(port, '127.0.0.1');
    socket.write('\u0016\u0003\u0001 hello\r\n\r\n');
    let text = '';
    for await (const chunk of socket) text += chunk;
    expect(text).toMatch(/^HTTP\/1.1 400 /);
    expect(JSON.parse(text.split('\r\n\r\n')[1]!)).toMatchObject({ code: 'BAD_REQUEST' });
    expect((await call('GET', '/api/session')).status).toBe(200);
  });
});
