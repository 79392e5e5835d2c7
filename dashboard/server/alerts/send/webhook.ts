import { createHmac } from 'node:crypto';
import { lookup as systemLookup } from 'node:dns';
import { once } from 'node:events';
import { type ClientRequest, type IncomingMessage, request as requestPlain } from 'node:http';
import { request as requestTls } from 'node:https';
import { isIP } from 'node:net';
import { AddressRefused, checkedLookup, isPermitted } from './permitted-address.ts';

export interface WebhookOptions {
  /** Also to private networks and this machine; then without TLS too. */
  allowOwnNetwork: boolean;
  /** For the whole exchange. Default 10 s. */
  timeoutMs?: number;
  /** How names become addresses; default: as the system does. */
  resolve?: typeof systemLookup;
}

/** Why an address cannot be a webhook's at all; null when it may be one, its name's address still to be seen. */
export function webhookMistake(url: string, { allowOwnNetwork }: WebhookOptions): string | null {
  if (!URL.canParse(url)) return 'this is no web address';
  const { protocol, username, password, hostname, hash } = new URL(url);
  if (protocol !== 'https:' && !(protocol === 'http:' && allowOwnNetwork))
    return 'only https addresses are told: others could read along and change it';
  if (username !== '' || password !== '') return 'a name and password in the address would be shown to all';
  if (hash !== '') return "the part after '#' never reaches the other side";
  const bare = hostname.replace(/^\[|\]$/g, '');
  if (isIP(bare) !== 0 && !isPermitted(bare, allowOwnNetwork)) return new AddressRefused(bare).message;
  return null;
}

/** Signature of a message: HMAC-SHA256 over the time, a full stop and the body, as hexadecimal digits. */
export function signature(secret: string, unixSeconds: number, body: string): string {
  return createHmac('sha256', secret).update(`${unixSeconds}.${body}`).digest('hex');
}

/**
 * Posts JSON, signed. Settles when the other side has answered 2xx; rejects with the reason otherwise. Redirects are not
 * followed: they would lead past the check of the address. Nothing of the answer is kept.
 */
export async function postWebhook(
  target: { url: string; secret: string; messageId: string },
  body: string,
  nowMs: number,
  options: WebhookOptions,
): Promise<void> {
  const { url, secret, messageId } = target;
  const mistake = webhookMistake(url, options);
  if (mistake !== null) throw new Error(mistake);
  const { allowOwnNetwork, timeoutMs = 10_000, resolve = systemLookup } = options;
  const seconds = Math.floor(nowMs / 1000);
  const request: ClientRequest = (url.startsWith('https:') ? requestTls : requestPlain)(url, {
    method: 'POST',
    lookup: checkedLookup(allowOwnNetwork, resolve),
    // A connection kept from earlier would go to the address of earlier; each message checks anew.
    agent: false,
    signal: AbortSignal.timeout(timeoutMs),
    headers: {
      'content-type': 'application/json',
      'content-length': Buffer.byteLength(body),
      'user-agent': 'Clampline',
      'clampline-message': messageId,
      'clampline-time': String(seconds),
      'clampline-signature': `sha256=${signature(secret, seconds, body)}`,
    },
  });
  try {
    request.end(body);
    const [response] = (await once(request, 'response')) as [IncomingMessage];
    const { statusCode = 0 } = response;
    response.on('error', () => {});
    if (statusCode >= 200 && statusCode < 300) return;
    const isRedirect = statusCode >= 300 && statusCode < 400;
    throw new Error(
      isRedirect
        ? `the other side answered with a redirect (${statusCode}), which is not followed`
        : `the other side answered ${statusCode}`,
    );
  } catch (error) {
    const { name } = error as Error;
    if (name === 'AbortError' || name === 'TimeoutError')
      throw new Error(`no answer within ${timeoutMs / 1000} s`);
    throw error;
  } finally {
    request.destroy();
  }
}
