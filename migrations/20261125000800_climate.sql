-- What the thermometers and hygrometers showed. A reading stands for one rack, or without one for every rack of the room.

CREATE TABLE climate_reading (
    id INTEGER PRIMARY KEY,
    room_id INTEGER NOT NULL REFERENCES room (id),
    rack_id INTEGER REFERENCES rack (id),
    at TEXT NOT NULL,
    -- The local day of the reading.
    day TEXT NOT NULL,
    -- Tenths of a degree Celsius.
    decicelsius INTEGER CONSTRAINT reading_celsius_range CHECK (decicelsius BETWEEN -200 AND 600),
    -- Relative humidity, %.
    humidity INTEGER CONSTRAINT reading_humidity_range CHECK (humidity BETWEEN 1 AND 100),
    member_id INTEGER REFERENCES member (id),
    written_at TEXT NOT NULL,
    -- A later entry that strikes this one out.
    corrects_id INTEGER REFERENCES climate_reading (id) UNIQUE,
    CONSTRAINT reading_says_something CHECK (corrects_id IS NOT NULL OR decicelsius IS NOT NULL OR humidity IS NOT NULL)
) STRICT;
CREATE INDEX climate_reading_by_room ON climate_reading (room_id, at);
CREATE INDEX climate_reading_by_rack ON climate_reading (rack_id, at);
CREATE VIEW climate_reading_standing AS
SELECT climate_reading.* FROM climate_reading
WHERE corrects_id IS NULL AND NOT EXISTS (SELECT 1 FROM climate_reading AS later WHERE later.corrects_id = climate_reading.id);

CREATE TRIGGER climate_reading_of_its_room BEFORE INSERT ON climate_reading
WHEN NEW.rack_id IS NOT NULL AND (SELECT room_id FROM rack WHERE id = NEW.rack_id) <> NEW.room_id
BEGIN SELECT RAISE(ABORT, 'a rack stands in one room'); END;
CREATE TRIGGER climate_reading_keeps BEFORE UPDATE ON climate_reading BEGIN SELECT RAISE(ABORT, 'readings are never changed'); END;
CREATE TRIGGER climate_reading_loses_none BEFORE DELETE ON climate_reading BEGIN SELECT RAISE(ABORT, 'readings are never removed'); END;
