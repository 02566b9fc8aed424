"""What each page of the site says: records for the templates, feeds, open data. No host here."""
