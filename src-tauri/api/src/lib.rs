//! Plain request and reply types: the one contract between ui, shell, command line and hub.
