-- Records as revision 0001 left them; never to be changed.
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL,
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE comb_round (
    id TEXT NOT NULL,
    learner_id TEXT NOT NULL,
    drill TEXT NOT NULL,
    feedback TEXT NOT NULL,
    kind TEXT NOT NULL,
    recipe TEXT NOT NULL,
    shown_utc_ms INTEGER NOT NULL,
    ended_utc_ms INTEGER,
    PRIMARY KEY (id),
    CHECK (feedback IN ('after-each', 'after-comb')),
    CHECK (kind IN ('drawn', 'photo')),
    FOREIGN KEY(learner_id) REFERENCES learner (id) ON DELETE CASCADE
) STRICT;
INSERT INTO "comb_round" VALUES('00000000-0000-4000-8000-000000000100','5e0b8c64-6f0c-4f7e-9a51-3d5c8a0f1b01','pick-from-patch','after-comb','drawn','{"seed": 11, "drawn_by": "0.1.0"}',1772355600000,1772355620000);
INSERT INTO "comb_round" VALUES('00000000-0000-4000-8000-000000000101','5e0b8c64-6f0c-4f7e-9a51-3d5c8a0f1b01','take-or-leave','after-each','drawn','{"seed": 12, "drawn_by": "0.1.0"}',1772355660000,NULL);
CREATE TABLE learner (
    id TEXT NOT NULL,
    name TEXT NOT NULL,
    name_key TEXT NOT NULL,
    created_utc_ms INTEGER NOT NULL,
    PRIMARY KEY (id),
    CHECK (length(name) BETWEEN 1 AND 60),
    UNIQUE (name_key)
) STRICT;
INSERT INTO "learner" VALUES('5e0b8c64-6f0c-4f7e-9a51-3d5c8a0f1b01','Mira Example','mira example',1772355600000);
INSERT INTO "learner" VALUES('5e0b8c64-6f0c-4f7e-9a51-3d5c8a0f1b02','Noor Example','noor example',1772442000000);
CREATE TABLE photo (
    sha256 TEXT NOT NULL,
    name TEXT NOT NULL,
    suffix TEXT NOT NULL,
    added_utc_ms INTEGER NOT NULL,
    sheet TEXT,
    PRIMARY KEY (sha256),
    CHECK (length(sha256) = 64 AND sha256 NOT GLOB '*[^0-9a-f]*'),
    CHECK (length(suffix) BETWEEN 2 AND 6 AND suffix GLOB '.*'
        AND substr(suffix, 2) NOT GLOB '*[^0-9a-z]*')
) STRICT;
INSERT INTO "photo" VALUES('0000000000000000000000000000000000000000000000000000000000000001','frame 1.jpg','.jpg',1772355600000,'{"format": "larvasight.sheet"}');
CREATE TABLE setting (
    scope TEXT NOT NULL,
    "key" TEXT NOT NULL,
    value TEXT NOT NULL,
    PRIMARY KEY (scope, "key")
) STRICT;
INSERT INTO "setting" VALUES('class','limits','{"young_h": 6.0, "best_young_h": 12.0, "best_old_h": 24.0, "old_h": 36.0}');
CREATE TABLE shown_cell (
    id TEXT NOT NULL,
    round_id TEXT NOT NULL,
    learner_id TEXT NOT NULL,
    drill TEXT NOT NULL,
    "row" INTEGER NOT NULL,
    col INTEGER NOT NULL,
    position INTEGER NOT NULL,
    tile_id TEXT,
    content TEXT NOT NULL,
    age_h REAL,
    looks_age_h REAL,
    length_mm REAL,
    curl_deg REAL,
    jelly TEXT,
    is_plain INTEGER NOT NULL,
    answer TEXT,
    response_ms INTEGER,
    is_final INTEGER NOT NULL,
    feedback TEXT NOT NULL,
    young_h REAL NOT NULL,
    best_young_h REAL NOT NULL,
    best_old_h REAL NOT NULL,
    old_h REAL NOT NULL,
    program_version TEXT NOT NULL,
    model_version TEXT,
    shown_utc_ms INTEGER NOT NULL,
    answered_utc_ms INTEGER,
    PRIMARY KEY (id),
    CHECK (content IN
        ('empty', 'egg', 'larva', 'capped', 'stores', 'covered', 'unclear')),
    CHECK (jelly IN ('none', 'little', 'plenty')),
    CHECK (answer IN ('take', 'leave')),
    CHECK (feedback IN ('after-each', 'after-comb')),
    CHECK (is_plain IN (0, 1)),
    CHECK (is_final IN (0, 1)),
    CHECK (response_ms >= 0),
    CHECK ((answer IS NULL) = (answered_utc_ms IS NULL)),
    CHECK (is_final = 0 OR answer IS NOT NULL),
    FOREIGN KEY(round_id) REFERENCES comb_round (id) ON DELETE CASCADE,
    FOREIGN KEY(learner_id) REFERENCES learner (id) ON DELETE CASCADE
) STRICT;
INSERT INTO "shown_cell" VALUES('00000000-0000-4000-8000-000000000001','00000000-0000-4000-8000-000000000100','5e0b8c64-6f0c-4f7e-9a51-3d5c8a0f1b01','pick-from-patch',2,3,0,NULL,'larva',18.5,19.25,1.5,120.0,'plenty',1,'take',1250,1,'after-comb',6.0,12.0,24.0,30.0,'0.1.0',NULL,1772355600000,1772355620000);
INSERT INTO "shown_cell" VALUES('00000000-0000-4000-8000-000000000002','00000000-0000-4000-8000-000000000100','5e0b8c64-6f0c-4f7e-9a51-3d5c8a0f1b01','pick-from-patch',2,4,1,'tile-7','empty',NULL,NULL,NULL,NULL,NULL,0,'leave',NULL,1,'after-comb',6.0,12.0,24.0,30.0,'0.1.0',NULL,1772355600000,1772355620000);
INSERT INTO "shown_cell" VALUES('00000000-0000-4000-8000-000000000011','00000000-0000-4000-8000-000000000101','5e0b8c64-6f0c-4f7e-9a51-3d5c8a0f1b01','take-or-leave',2,3,0,NULL,'larva',18.5,19.25,1.5,120.0,'plenty',1,'take',1250,0,'after-each',6.0,12.0,24.0,30.0,'0.1.0',NULL,1772355660000,1772355680000);
INSERT INTO "shown_cell" VALUES('00000000-0000-4000-8000-000000000012','00000000-0000-4000-8000-000000000101','5e0b8c64-6f0c-4f7e-9a51-3d5c8a0f1b01','take-or-leave',2,4,1,'tile-7','empty',NULL,NULL,NULL,NULL,NULL,0,NULL,NULL,0,'after-each',6.0,12.0,24.0,30.0,'0.1.0',NULL,1772355660000,NULL);
CREATE INDEX ix_comb_round_learner ON comb_round (learner_id, shown_utc_ms);
CREATE INDEX ix_shown_cell_final ON shown_cell (
    learner_id, answered_utc_ms, position, drill, content, age_h, looks_age_h,
    is_plain, answer, response_ms, young_h, old_h, is_final
) WHERE is_final = 1;
CREATE INDEX ix_shown_cell_round ON shown_cell (round_id, position);
COMMIT;
