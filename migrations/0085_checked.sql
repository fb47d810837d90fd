-- How a review, a verification or a clearance came about: by a second account of this record, by
-- the clearing of a revision, or with an import of history.

ALTER TABLE finding ADD COLUMN checked TEXT
    CHECK (checked IN ('here', 'imported, not checked here'));
ALTER TABLE exemption ADD COLUMN checked TEXT
    CHECK (checked IN ('here', 'imported, not checked here'));
ALTER TABLE remedy ADD COLUMN checked TEXT
    CHECK (checked IN ('here', 'by clearing the revision', 'imported, not checked here'));
ALTER TABLE revision ADD COLUMN checked TEXT
    CHECK (checked IN ('here', 'imported, not checked here'));

-- Until now a table could bring a judgement under any name. Whoever entered it decides: the person
-- that it names judged here, anybody else brought it in.
UPDATE finding SET checked = iif(lower(trim(reviewed_by)) = (SELECT lower(trim(who)) FROM change
        WHERE kind = 'finding' AND change.code = finding.code
            AND json_extract(after, '$.reviewed_by') <> '' ORDER BY seq DESC LIMIT 1),
    'here', 'imported, not checked here')
WHERE reviewed_by IS NOT NULL;
UPDATE exemption SET checked = iif(lower(trim(reviewed_by)) = (SELECT lower(trim(who)) FROM change
        WHERE kind = 'exemption' AND change.code = exemption.code
            AND json_extract(after, '$.reviewed_by') <> '' ORDER BY seq DESC LIMIT 1),
    'here', 'imported, not checked here')
WHERE reviewed_by IS NOT NULL;
UPDATE revision SET checked = iif(lower(trim(cleared_by)) = (SELECT lower(trim(who)) FROM change
        WHERE kind = 'revision' AND change.code = revision.code
            AND json_extract(after, '$.cleared_by') <> '' ORDER BY seq DESC LIMIT 1),
    'here', 'imported, not checked here')
WHERE cleared_by IS NOT NULL;
UPDATE remedy SET checked = iif(finding IS NULL AND EXISTS (SELECT 1 FROM revision
        WHERE revision.technique = remedy.technique AND revision.number = remedy.revision
            AND revision.cleared_by = remedy.verified_by AND revision.checked = 'here'),
    'by clearing the revision',
    iif(lower(trim(verified_by)) = (SELECT lower(trim(who)) FROM change
            WHERE kind = 'remedy' AND change.code = remedy.code
                AND json_extract(after, '$.verified_by') <> '' ORDER BY seq DESC LIMIT 1),
        'here', 'imported, not checked here'))
WHERE state = 'verified';

PRAGMA user_version = 85;
