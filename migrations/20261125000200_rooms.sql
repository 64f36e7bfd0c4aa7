-- Where things stand: rooms, racks and shelves, each with its place in walking order.
CREATE TABLE room (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL COLLATE NOCASE CONSTRAINT room_name_length CHECK (length(name) BETWEEN 1 AND 60),
    walk_order INTEGER NOT NULL CHECK (walk_order >= 0),
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT room_name_unique UNIQUE (name)
) STRICT;

CREATE TABLE rack (
    id INTEGER PRIMARY KEY,
    room_id INTEGER NOT NULL REFERENCES room (id),
    name TEXT NOT NULL COLLATE NOCASE CONSTRAINT rack_name_length CHECK (length(name) BETWEEN 1 AND 60),
    walk_order INTEGER NOT NULL CHECK (walk_order >= 0),
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT rack_name_unique UNIQUE (room_id, name)
) STRICT;

CREATE TABLE shelf (
    id INTEGER PRIMARY KEY,
    rack_id INTEGER NOT NULL REFERENCES rack (id),
    number INTEGER NOT NULL CONSTRAINT shelf_number_range CHECK (number BETWEEN 1 AND 99),
    CONSTRAINT shelf_number_unique UNIQUE (rack_id, number)
) STRICT;

-- A shelf with its names, as pages show it: "Quiet room · Rack B · 3".
CREATE VIEW place AS
SELECT shelf.id AS shelf_id, rack.id AS rack_id, room.id AS room_id,
       room.name || ' · ' || rack.name || ' · shelf ' || shelf.number AS label,
       room.name AS room_name, rack.name AS rack_name, shelf.number AS shelf_number,
       room.walk_order AS room_order, rack.walk_order AS rack_order
FROM shelf JOIN rack ON rack.id = shelf.rack_id JOIN room ON room.id = rack.room_id;
