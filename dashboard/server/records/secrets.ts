import { createHash, randomBytes, timingSafeEqual } from 'node:crypto';

/**
 * Random secrets made by the station. They carry 128 bits or more, so a plain SHA-256 is a safe way to store
 * them: there is no list of likely values to try, unlike with people's passwords.
 */
export function newSecret(bytes: 16 | 32): string {
  return randomBytes(bytes).toString('hex');
}

export function hashSecret(secret: string | Buffer): Buffer {
  return createHash('sha256').update(secret).digest();
}

/** Compares in a time that does not depend on where the difference is. */
export function sameHash(a: Buffer, b: Buffer): boolean {
  return a.length === b.length && timingSafeEqual(a, b);
}
