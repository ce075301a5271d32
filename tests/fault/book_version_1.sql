-- SPDX-License-Identifier: GPL-3.0-or-later
--
-- A book of version 1 as it was laid out, with one record in its chain: what a migration starts from. Never edited.
PRAGMA application_id = 0x424c4142;
PRAGMA user_version = 1;
CREATE TABLE book(  one INTEGER PRIMARY KEY CHECK(one = 1),  uuid TEXT NOT NULL,  created_ms INTEGER NOT NULL,  records INTEGER NOT NULL,  head_link BLOB NOT NULL) STRICT;
CREATE TABLE book_entry(  number INTEGER PRIMARY KEY,  kind TEXT NOT NULL,  wall_ms INTEGER NOT NULL,  body TEXT NOT NULL,  body_sha256 BLOB NOT NULL,  link_sha256 BLOB NOT NULL) STRICT;
CREATE TABLE person(  code TEXT PRIMARY KEY,  role TEXT NOT NULL CHECK(role IN ('trainee', 'assessor', 'director')),  level TEXT,  cohort TEXT) STRICT, WITHOUT ROWID;
CREATE TABLE person_name(  code TEXT PRIMARY KEY REFERENCES person(code),  name TEXT NOT NULL,  salt BLOB NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE edition(  rubric TEXT NOT NULL,  edition INTEGER NOT NULL,  title TEXT NOT NULL,  sha256 TEXT NOT NULL,  text TEXT NOT NULL,  added_ms INTEGER NOT NULL,  PRIMARY KEY(rubric, edition)) STRICT;
CREATE TABLE session(  code TEXT PRIMARY KEY,  trainee TEXT NOT NULL REFERENCES person(code),  rubric TEXT NOT NULL,  edition INTEGER NOT NULL,  started_ms INTEGER NOT NULL,  FOREIGN KEY(rubric, edition) REFERENCES edition(rubric, edition)) STRICT, WITHOUT ROWID;
CREATE INDEX session_by_trainee ON session(trainee, rubric, started_ms);
CREATE TABLE observation(  id INTEGER PRIMARY KEY,  session TEXT NOT NULL REFERENCES session(code),  assessor TEXT NOT NULL REFERENCES person(code),  mode TEXT NOT NULL CHECK(mode IN ('live', 'video', 'self')),  records INTEGER NOT NULL,  events INTEGER NOT NULL,  strikes INTEGER NOT NULL,  amends INTEGER NOT NULL,  head_link BLOB NOT NULL,  closed_ms INTEGER,  receipt TEXT,  UNIQUE(session, assessor, mode)) STRICT;
CREATE TABLE entry(  observation_id INTEGER NOT NULL REFERENCES observation(id),  number INTEGER NOT NULL,  kind TEXT NOT NULL CHECK(kind = 'event' OR kind = 'open' OR kind = 'close'    OR kind = 'strike' OR kind = 'amend'),  seq INTEGER NOT NULL,  at_ms INTEGER,  action TEXT,  site TEXT,  item TEXT,  value TEXT,  redo INTEGER,  note TEXT,  details TEXT,  reason TEXT,  wall_ms INTEGER NOT NULL,  "by" TEXT NOT NULL,  source TEXT NOT NULL CHECK(source = 'import' OR source = 'live' OR source = 'video'    OR source = 'self'),  id TEXT,  salt BLOB NOT NULL,  body_sha256 BLOB NOT NULL,  link_sha256 BLOB NOT NULL,  PRIMARY KEY(observation_id, number)) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX entry_by_id ON entry(id) WHERE id IS NOT NULL;
CREATE TABLE result(  observation_id INTEGER NOT NULL REFERENCES observation(id),  number INTEGER NOT NULL,  engine_version INTEGER NOT NULL,  head_link BLOB NOT NULL,  issued_ms INTEGER NOT NULL,  outcome TEXT NOT NULL,  total TEXT,  total_percent_milli INTEGER NOT NULL,  total_ms INTEGER NOT NULL,  steps_assessed INTEGER NOT NULL,  steps_given_mp INTEGER NOT NULL,  steps_possible_mp INTEGER NOT NULL,  order_assessed INTEGER NOT NULL,  order_given_mp INTEGER NOT NULL,  order_possible_mp INTEGER NOT NULL,  time_assessed INTEGER NOT NULL,  time_given_mp INTEGER NOT NULL,  time_possible_mp INTEGER NOT NULL,  technique_assessed INTEGER NOT NULL,  technique_given_mp INTEGER NOT NULL,  technique_possible_mp INTEGER NOT NULL,  product_assessed INTEGER NOT NULL,  product_given_mp INTEGER NOT NULL,  product_possible_mp INTEGER NOT NULL,  rating_assessed INTEGER NOT NULL,  rating_given_mp INTEGER NOT NULL,  rating_possible_mp INTEGER NOT NULL,  json TEXT NOT NULL,  PRIMARY KEY(observation_id, number)) STRICT;
CREATE TRIGGER book_entry_no_update BEFORE UPDATE ON book_entry BEGIN SELECT RAISE(ABORT, 'a row of book_entry is never changed or removed'); END;
CREATE TRIGGER book_entry_no_delete BEFORE DELETE ON book_entry BEGIN SELECT RAISE(ABORT, 'a row of book_entry is never changed or removed'); END;
CREATE TRIGGER edition_no_update BEFORE UPDATE ON edition BEGIN SELECT RAISE(ABORT, 'a row of edition is never changed or removed'); END;
CREATE TRIGGER edition_no_delete BEFORE DELETE ON edition BEGIN SELECT RAISE(ABORT, 'a row of edition is never changed or removed'); END;
CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'a row of entry is never changed or removed'); END;
CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'a row of entry is never changed or removed'); END;
CREATE TRIGGER result_no_update BEFORE UPDATE ON result BEGIN SELECT RAISE(ABORT, 'a row of result is never changed or removed'); END;
CREATE TRIGGER result_no_delete BEFORE DELETE ON result BEGIN SELECT RAISE(ABORT, 'a row of result is never changed or removed'); END;
INSERT INTO book VALUES(1, '019cb8f1-23e0-7000-8000-000000000001', 1772615100000, 1, x'ce1b563672784bb3e73c8998c0f7a1f8d43fa14298630d3eba3c9b5669bcdd0e');
INSERT INTO book_entry VALUES(1, 'book_created', 1772615100000, '{"book":"019cb8f1-23e0-7000-8000-000000000001","by":"tester","created_ms":1772615100000,"salt":"00112233445566778899aabbccddeeff"}',
  x'1ee86ec5ca1d867208c9ea0c22af9524da3cf5fe207adc41e626076a63660dcd',
  x'ce1b563672784bb3e73c8998c0f7a1f8d43fa14298630d3eba3c9b5669bcdd0e');
