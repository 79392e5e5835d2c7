import Database from 'better-sqlite3';
import { hashSecret, sameHash } from './secrets.ts';

/** Who a connection to the broker is. */
type Principal = { role: 'node'; nodeId: string } | { role: 'service'; name: string };

interface NodeCredentials {
  /** Null when the name is unknown or revoked, or the password wrong. */
  verify(username: string, password: Buffer): Promise<Principal | null>;
  /** Whether the credentials with which the node was last let in are still the ones in the file. */
  stillHolds(nodeId: string): boolean;
  close(): void;
}

/**
 * Read-only view of the records file for a broker: asks the file at every connection, so a node added or revoked
 * a moment ago is seen. The file may not exist yet (the dashboard server makes it); until then no node is let in.
 *
 * `services` are the accounts of the station's own parts (name -> password); they never come from the file.
 */
export function openNodeCredentials(file: string, services: Record<string, string> = {}): NodeCredentials {
  const serviceHashes = new Map(Object.entries(services).map(([name, secret]) => [name, hashSecret(secret)]));
  // Compared with when the name is unknown: the answer takes the same path as for a known one.
  const nobody = Buffer.alloc(32);
  /** Hash with which each node was last let in. */
  const letIn = new Map<string, Buffer>();
  let db: Database.Database | undefined;
  let find: Database.Statement | undefined;

  function credentialHash(nodeId: string): Buffer | undefined {
    if (find === undefined) {
      try {
        db = new Database(file, { readonly: true, fileMustExist: true, timeout: 2_000 });
        find = db.prepare('SELECT credential_hash FROM nodes WHERE id = ? AND revoked_ms IS NULL').pluck();
      } catch (error) {
        db?.close();
        db = undefined;
        const { code, message } = error as { code?: string; message: string };
        if (code === 'SQLITE_CANTOPEN' || message.startsWith('no such table')) return undefined;
        throw error;
      }
    }
    return find.get(nodeId) as Buffer | undefined;
  }

  return {
    async verify(username, password) {
      const given = hashSecret(password);
      const service = serviceHashes.get(username);
      if (service !== undefined) return sameHash(service, given) ? { role: 'service', name: username } : null;
      const stored = credentialHash(username);
      const matches = sameHash(stored ?? nobody, given);
      if (stored === undefined || !matches) return null;
      letIn.set(username, stored);
      return { role: 'node', nodeId: username };
    },
    stillHolds(nodeId) {
      const [before, stored] = [letIn.get(nodeId), credentialHash(nodeId)];
      return before !== undefined && stored !== undefined && sameHash(before, stored);
    },
    close: () => db?.close(),
  };
}
