import { createHmac, timingSafeEqual } from 'node:crypto';

/** What a link's signature covers. */
export interface OwnerClaim {
  linkId: number;
  assetId: number;
  expiresMs: number;
  /** Random: another link never has the same signature, even in a restored backup. */
  nonce: string;
}

const TOKEN = /^([1-9]\d{0,14})\.([A-Za-z0-9_-]{43})$/;

/** `<link>.<HMAC-SHA256 (RFC 2104) of the claim, base64url>`. */
export function ownerToken(secret: Buffer, claim: OwnerClaim): string {
  return `${claim.linkId}.${signature(secret, claim).toString('base64url')}`;
}

/** The link that a token names, and its signature; null when it is no token at all. Not yet checked. */
export function readToken(token: string): { linkId: number; signed: Buffer } | null {
  const found = TOKEN.exec(token);
  if (found === null) return null;
  const signed = Buffer.from(found[2]!, 'base64url');
  // The last letter has bits to spare: of the ways to write one signature, one is right.
  return signed.toString('base64url') === found[2] ? { linkId: Number(found[1]), signed } : null;
}

/** Takes the same time wherever the difference is. */
export function isSigned(secret: Buffer, claim: OwnerClaim, signed: Buffer): boolean {
  const right = signature(secret, claim);
  return signed.length === right.length && timingSafeEqual(signed, right);
}

function signature(secret: Buffer, { linkId, assetId, expiresMs, nonce }: OwnerClaim): Buffer {
  const text = ['owner-link', linkId, assetId, expiresMs, nonce].join('\n');
  return createHmac('sha256', secret).update(text).digest();
}
