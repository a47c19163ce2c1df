# What a step of the history did, as undo and redo say it: the store keeps which one it was and what stands in it.

act-set = change of { $field }
act-enclosure = enclosure: { $name }
act-circuit = new circuit at { $pole }
act-move = move to { $pole }
act-moves = move of { $count ->
    [one] 1 device
   *[other] { $count } devices
 }
act-supply-cable = new incoming cable
act-remove-circuit = removal of a circuit
act-entry = new entry { $size }
act-move-entry = move of an entry
act-number-entry = new number of an entry
act-remove-entry = removal of an entry
act-entries = { $count ->
    [one] 1 entry
   *[other] { $count } entries
 } added
act-set-out = setting out of { $count ->
    [one] 1 entry
   *[other] { $count } entries
 }
act-holes = { $count ->
    [one] 1 hole
   *[other] { $count } holes
 } measured on a photo
act-slot = new slot between holes
act-photo = new photo
act-mark = mark on a photo
act-seen = seen: { $what }
act-note = new note

act-new-board = new board
act-import = import of a survey
act-settle = settle a conflict
act-demo-photo = photo of the demo
act-unknown = a step of a newer version
