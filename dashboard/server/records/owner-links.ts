import { randomBytes } from 'node:crypto';
import type { Database } from 'better-sqlite3';
import type { OwnerLink } from '../../contract/owner.ts';
import { isSigned, ownerToken, readToken } from './owner-token.ts';
import { RecordError } from './record-error.ts';

/** A step of the records file's layout, never edited once released. */
export const OWNER_TABLES = `
  CREATE TABLE owner_links (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    asset_id INTEGER NOT NULL REFERENCES assets (id) ON DELETE CASCADE,
    nonce TEXT NOT NULL,
    made_by TEXT NOT NULL,
    made_ms INTEGER NOT NULL,
    expires_ms INTEGER NOT NULL,
    revoked_ms INTEGER,
    opened_count INTEGER NOT NULL DEFAULT 0,
    last_opened_day_ms INTEGER
  ) STRICT;
  CREATE INDEX owner_links_of_asset ON owner_links (asset_id, id);
`;

const DAY_MS = 86_400_000;
const SECRET_KEY = 'owner-link-secret';
const MOST_LINKS_OF_AN_ASSET = 200;

/** Links for owners, signed with a secret of this station. */
export interface OwnerLinks {
  /** Newest first. */
  list(assetId: number): OwnerLink[];
  /** The token is told only here. */
  make(assetId: number, days: number, by: string): { link: OwnerLink; token: string };
  /** One that was revoked stays so. Throws `OWNER_LINK_NOT_FOUND`. */
  revoke(assetId: number, linkId: number): void;
  /** The link behind a token that is signed, not revoked and not expired; else null, whatever the reason. */
  check(token: string): { id: number; assetId: number; expiresMs: number } | null;
  /** Counts it, by the day. Of who opened it nothing is kept. */
  noteOpened(linkId: number): void;
}

interface Row extends OwnerLink {
  assetId: number;
  nonce: string;
}

export function createOwnerLinks(db: Database, now: () => number): OwnerLinks {
  const columns = `id, asset_id AS assetId, nonce, made_by AS madeBy, made_ms AS madeMs, expires_ms AS expiresMs,
    revoked_ms AS revokedMs, opened_count AS openedCount, last_opened_day_ms AS lastOpenedDayMs`;
  const sql = {
    list: db.prepare(`SELECT ${columns} FROM owner_links WHERE asset_id = ? ORDER BY id DESC`),
    find: db.prepare(`SELECT ${columns} FROM owner_links WHERE id = ?`),
    asset: db.prepare('SELECT 1 FROM assets WHERE id = ?').pluck(),
    count: db.prepare('SELECT count(*) FROM owner_links WHERE asset_id = ?').pluck(),
    add: db.prepare(
      'INSERT INTO owner_links (asset_id, nonce, made_by, made_ms, expires_ms) VALUES (?, ?, ?, ?, ?)',
    ),
    revoke: db.prepare('UPDATE owner_links SET revoked_ms = ? WHERE id = ? AND revoked_ms IS NULL'),
    opened: db.prepare(
      'UPDATE owner_links SET opened_count = opened_count + 1, last_opened_day_ms = ? WHERE id = ?',
    ),
    secret: db.prepare('SELECT value FROM settings WHERE key = ?').pluck(),
    putSecret: db.prepare('INSERT OR IGNORE INTO settings (key, value) VALUES (?, ?)'),
  };
  const find = (id: number) => sql.find.get(id) as Row | undefined;
  const knownSecret = () => {
    const hex = sql.secret.get(SECRET_KEY) as string | undefined;
    return hex === undefined ? null : Buffer.from(hex, 'hex');
  };
  /** Made with the first link: a station that has none has nothing to keep. */
  function secret(): Buffer {
    const known = knownSecret();
    if (known !== null) return known;
    sql.putSecret.run(SECRET_KEY, randomBytes(32).toString('hex'));
    return knownSecret()!;
  }
  const claimOf = ({ id, assetId, expiresMs, nonce }: Row) => ({ linkId: id, assetId, expiresMs, nonce });
  const view = ({ assetId, nonce, ...link }: Row): OwnerLink => link;

  const make = db.transaction((assetId: number, days: number, by: string): Row => {
    if (sql.asset.get(assetId) === undefined) throw new RecordError('ASSET_NOT_FOUND');
    if ((sql.count.get(assetId) as number) >= MOST_LINKS_OF_AN_ASSET)
      throw new RecordError('TOO_MANY_RECORDS');
    const nonce = randomBytes(16).toString('hex');
    const { lastInsertRowid } = sql.add.run(assetId, nonce, by, now(), now() + days * DAY_MS);
    return find(Number(lastInsertRowid))!;
  });

  return {
    list: (assetId) => (sql.list.all(assetId) as Row[]).map(view),
    make(assetId, days, by) {
      const row = make.immediate(assetId, days, by);
      return { link: view(row), token: ownerToken(secret(), claimOf(row)) };
    },
    revoke(assetId, linkId) {
      if (find(linkId)?.assetId !== assetId) throw new RecordError('OWNER_LINK_NOT_FOUND');
      sql.revoke.run(now(), linkId);
    },
    check(token) {
      const read = readToken(token);
      const key = knownSecret();
      const row = read === null ? undefined : find(read.linkId);
      if (read === null || key === null || row === undefined || !isSigned(key, claimOf(row), read.signed))
        return null;
      const { id, assetId, expiresMs, revokedMs } = row;
      return revokedMs === null && expiresMs > now() ? { id, assetId, expiresMs } : null;
    },
    noteOpened(linkId) {
      sql.opened.run(Math.floor(now() / DAY_MS) * DAY_MS, linkId);
    },
  };
}
